// The bar of long work: on a terminal that takes escape codes, and nowhere else.

import assert from 'node:assert/strict';
import { PassThrough } from 'node:stream';
import { progressBar } from '../../server/src/cli/progressBar.js';

function written(isTTY: boolean, env: Record<string, string>): string {
  const stream = Object.assign(new PassThrough(), { isTTY, columns: 80 });
  const bar = progressBar(3, stream as unknown as NodeJS.WriteStream, env);
  bar.at(1, 'a.session.csv');
  bar.stop();
  return String(stream.read() ?? '');
}

suite('command line: progress', () => {
  test('a bar on a terminal; not one byte in a pipe, with NO_COLOR (no-color.org) or on a dumb terminal', () => {
    assert.notEqual(written(true, {}), '');
    assert.notEqual(written(true, { NO_COLOR: '' }), '', 'an empty NO_COLOR says nothing');
    assert.equal(written(false, {}), '');
    assert.equal(written(true, { NO_COLOR: '1' }), '');
    assert.equal(written(true, { TERM: 'dumb' }), '');
  });
});
