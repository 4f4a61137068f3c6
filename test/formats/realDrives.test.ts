// Real recordings, where they are at hand (LEANSPOT_DRIVES names their folder): read without a mapping, few findings. Skipped tests are
// counted by the reporter.

import assert from 'node:assert/strict';
import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { bytesSource } from '../../server/src/formats/source.js';
import { drivesFolder } from '../support/faults/realDrive.js';
import { digest } from './sessionTexts.js';
import { readSessionBy } from '../../server/src/formats/session/readSession.js';

suite('real recordings over OBD-II', () => {
  const folder = drivesFolder();
  const files = folder && existsSync(folder) ? readdirSync(folder).filter((file) => file.endsWith('.csv')) : [];
  // The recordings are no part of the checkout; their absence is counted as one skip.
  test('are at hand', function () {
    if (files.length === 0) this.skip(); // open recordings that are not part of the project: the drives of the simulator are judged all the same
    assert.ok(files.length > 0);
  });
  for (const file of files) {
    test(`${file} reads by names alone, its oddities few`, () => {
      const source = bytesSource(readFileSync(join(folder as string, file)));
      const session = readSession(source);
      const known = session.channels.filter((channel) => channel.quantity !== undefined).map((channel) => channel.quantity);
      for (const quantity of [
        'engine-speed',
        'manifold-pressure',
        'short-term-fuel-trim',
        'long-term-fuel-trim',
        'coolant-temperature',
        'ignition-advance',
        'battery-voltage',
      ] as const)
        assert.ok(known.includes(quantity), quantity);
      assert.equal(session.time.spread, true);
      assert.deepEqual(session.problems.map((problem) => problem.kind).sort(), ['missing', 'name-guessed', 'spread']);
      assert.deepEqual(
        digest(readSessionBy(source, {}, { chunkBytes: 4099, everythingQuoted: true, kernelFromBytes: Infinity })),
        digest(session),
      );
    });
  }
});
