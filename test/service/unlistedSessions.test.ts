// A log that nobody listed is told, wherever its own findings would be missed: in the vehicle's findings, and from there in the report.

import assert from 'node:assert/strict';
import { createFileService } from '../../server/src/service/fileService.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';

const LOG = 'Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Lambda\n0,1000,40,1.00\n0.1,1010,41,1.01\n0.2,1020,42,0.99\n';

suite('sessions that are not listed', () => {
  test('files that read as sessions by their header alone are told once; tables, other texts, listed ones, joined ones and those of a nested vehicle are not', async () => {
    const workspace = memoryWorkspace(
      [
        '=== vehicle.json',
        '{ "sessions": ["listed/*.csv"], "join": [["a.session.csv", "wideband.csv"]] }',
        ...[
          'a.session.csv',
          'wideband.csv',
          'listed/b.csv',
          'dyno/c.csv',
          'd.csv',
          'other/vehicle.json',
          'other/e.csv',
          'notes.csv',
        ].flatMap((name) => [`=== ${name}`, name.endsWith('.json') ? '{}' : name === 'notes.csv' ? 'part,price\nplug,7\n' : LOG]),
        '',
      ].join('\n'),
    );
    const service = createFileService(workspace);
    const told = async (): Promise<string[]> =>
      ((await service.check(workspace.uri('vehicle.json')))?.findings ?? [])
        .filter(({ data }) => data?.kind === 'sessions-unlisted')
        .map(({ severity, message }) => `${severity}: ${message}`);
    const [first, ...more] = await told();
    assert.equal(more.length, 0);
    assert.match(
      first,
      /^information: "(?:d\.csv", "dyno\/c|dyno\/c\.csv", "d)\.csv" read as sessions and are not listed under "sessions" of vehicle\.json/,
    );
    const right = '{ "sessions": ["listed/*.csv"], "join": [["a.session.csv", "wideband.csv"]] }';
    workspace.write('vehicle.json', '{ "sessions": ["listed/*.csv"');
    assert.deepEqual(await told(), [], 'what a file that is cut off lists is not known');
    workspace.write('vehicle.json', right);
    workspace.remove('d.csv');
    assert.match((await told())[0], /^information: "dyno\/c\.csv" reads as a session and is not listed/);
    workspace.remove('dyno/c.csv');
    assert.deepEqual(await told(), []);
  });
});
