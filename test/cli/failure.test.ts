// What goes wrong with a file is said in one plain line and is no fault of the program.

import assert from 'node:assert/strict';
import { truncateSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { isOfFile, lineFor } from '../../server/src/cli/failure.js';
import { fileSource } from '../../server/src/disk/fileSource.js';
import { writeBytes } from '../../server/src/disk/writeFile.js';
import { SourceError, WENT_AWAY } from '../../server/src/formats/source.js';
import { inFolder } from '../support/folder.js';

const thrownBy = (act: () => unknown): unknown => {
  try {
    act();
  } catch (error) {
    return error;
  }
  return assert.fail('nothing was thrown');
};

suite('command line: failures', () => {
  test('a file that is there meanwhile, became shorter, or went away', async () => {
    await inFolder('=== a.csv\nx\n', (folder) => {
      const path = join(folder, 'a.csv');
      assert.match(
        lineFor(thrownBy(() => writeBytes(path, Uint8Array.of(1), { isNew: true }))),
        /^cannot use .*a\.csv: it is there already/,
      );
      writeFileSync(path, new Uint8Array(3 << 20));
      const source = fileSource(path)!;
      truncateSync(path, 10);
      const shorter = thrownBy(() => source.read(0, source.size));
      assert.match(lineFor(shorter), /^cannot use .*a\.csv: it became shorter while it was read$/);
      assert.ok(isOfFile(shorter));
    });
    assert.match(lineFor(new SourceError(WENT_AWAY, 'file:///car/a%20b.csv')), /^cannot use .*a b\.csv: it went away meanwhile$/);
  });

  test('anything else is a fault of the program and said to be one', () => {
    assert.match(lineFor(new Error('x')), /something went wrong inside/);
    assert.match(lineFor(undefined), /something went wrong inside/);
    assert.ok(!isOfFile(new Error('x')));
  });
});
