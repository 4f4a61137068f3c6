// A file's bytes, read in pieces of any size and order; and whether it holds what an editor shows: byte for byte, whatever its length.

import assert from 'node:assert/strict';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileHolds, fileSource } from '../../server/src/disk/fileSource.js';

suite('a file and bytes', () => {
  test('are the same to the last byte, or not', () => {
    const folder = mkdtempSync(join(tmpdir(), 'leanspot-same-'));
    try {
      const path = join(folder, 'a.session.csv');
      for (const length of [0, 1, (1 << 20) - 1, 1 << 20, (2 << 20) + 3]) {
        const bytes = new Uint8Array(length).map((_, at) => at % 251);
        writeFileSync(path, bytes);
        assert.ok(fileHolds(path, bytes), `${length} bytes`);
        assert.ok(!fileHolds(path, new Uint8Array([...bytes.subarray(0, 9), 1, ...bytes.subarray(9)])), 'one more');
        if (length === 0) continue;
        assert.ok(!fileHolds(path, bytes.subarray(1)), 'one less');
        for (const at of [0, length >> 1, length - 1])
          assert.ok(
            !fileHolds(
              path,
              bytes.map((byte, each) => (each === at ? byte ^ 1 : byte)),
            ),
            `another at ${at}`,
          );
      }
      mkdirSync(join(folder, 'b'));
      for (const none of ['b', 'c']) assert.ok(!fileHolds(join(folder, none), new Uint8Array(0)));
    } finally {
      rmSync(folder, { recursive: true });
    }
  });

  test('are read in any order, in pieces of any size', () => {
    const folder = mkdtempSync(join(tmpdir(), 'leanspot-read-'));
    try {
      const path = join(folder, 'a.session.csv'),
        bytes = new Uint8Array(3_000_001).map((_, at) => (at * 7919) % 251);
      writeFileSync(path, bytes);
      const source = fileSource(path)!,
        sizes = [1, 4096, (1 << 16) - 1, 1 << 16, (1 << 16) + 1, 1 << 20, (1 << 20) + 1, 4_000_000];
      for (let read = 0, start = 0; read < 200; read++, start = (start * 31 + 65_537) % bytes.length) {
        const end = start + sizes[read % sizes.length]!;
        assert.equal(Buffer.compare(source.read(start, end), bytes.subarray(start, end)), 0, `${start} to ${end}`);
      }
      assert.equal(source.read(bytes.length, bytes.length + 9).length, 0);
    } finally {
      rmSync(folder, { recursive: true });
    }
  });
});
