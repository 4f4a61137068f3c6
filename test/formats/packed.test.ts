// Columns kept packed: every number comes back to the last bit, and a session reads the same with them.

import assert from 'node:assert/strict';
import { PackedColumn } from '../../server/src/formats/csv/packed.js';
import { readSessionBy } from '../../server/src/formats/session/readSession.js';
import type { Session } from '../../server/src/formats/session/session.js';
import { bytesSource, textSource } from '../../server/src/formats/source.js';
import { makeSessionBytes } from '../bench/read.js';

const WAY = { chunkBytes: 1 << 16, everythingQuoted: false, kernelFromBytes: 1 << 16 };

/** Pushed in pieces of uneven length. */
const roundTrip = (values: Float64Array): Float64Array => {
  const column = new PackedColumn();
  for (let from = 0, step = 1; from < values.length; from += step, step = (step * 7) % 100_003)
    column.push(values.subarray(from, from + step));
  column.finish();
  return column.values();
};
const same = (a: Float64Array, b: Float64Array): void => {
  assert.equal(a.length, b.length);
  for (let i = 0; i < a.length; i++) if (!Object.is(a[i], b[i])) assert.fail(`row ${i}: ${a[i]} for ${b[i]}`);
};

suite('packed columns', () => {
  const columns: Readonly<Record<string, (i: number) => number>> = {
    'three decimals': (i) => Number((((i * 7919) % 2000) / 1000).toFixed(3)),
    'negative, six decimals': (i) => Number((((i * 104729) % 1_999_999) / -1e6).toFixed(6)),
    blanks: (i) => (i % 3 ? NaN : i % 500),
    'nothing but blanks': () => NaN,
    'minus zero': (i) => (i % 70_000 === 5 ? -0 : i % 9),
    'many digits': (i) => Math.sin(i),
    'small among large': (i) => (i % 1000 ? 0.000000001 * (i % 7) : 4_000_000 + i),
    'at the ends of their types': (i) => [-32768, 32767, -2147483648, 2147483647, 2147483648, 32766, -32767][i % 7]!,
    infinite: (i) => (i % 66_000 ? 1.5 : Infinity),
    'beyond whole numbers': (i) => 2 ** 60 + i * 2 ** 10,
  };
  for (const [name, value] of Object.entries(columns)) {
    test(name, () => {
      const values = Float64Array.from({ length: 200_001 }, (_, i) => value(i));
      same(roundTrip(values), values);
    });
  }

  test('steps of every width', () => {
    for (let bits = 1; bits <= 33; bits++) {
      // All codes of so many bits at their ends: two are for what is no step.
      const most = 2 ** bits - 3,
        values = Float64Array.from(
          { length: 20_000 },
          (_, i) => ([0, most, NaN, (i * 7919) % (most + 1), most - 1, -0][i % 6]! / 100) * (most < 0 ? 0 : 1),
        );
      same(roundTrip(values), values);
    }
  });

  test('a session reads the same, with rows of plain numbers and with others', () => {
    const plain = bytesSource(makeSessionBytes(3000));
    const odd = textSource(
      `Time (s),Lambda,Some,Other,Thousand\n${Array.from({ length: 3000 }, (_, i) => `${i / 10},${i % 5 ? 0.9 : ''},${i % 7 ? i / 8 : 'off'},"${i % 11}",${i % 13 ? i : '"1,234.5"'}`).join('\n')}\n`,
    );
    for (const source of [plain, odd]) {
      const [packed, whole] = [0, Infinity].map((packFromBytes) => readSessionBy(source, {}, { ...WAY, packFromBytes }));
      assert.ok(whole!.samples >= 3000 && whole!.channels.some(({ quantity }) => quantity === undefined));
      assert.deepEqual(packed!.problems, whole!.problems);
      for (const [index, channel] of whole!.channels.entries()) {
        assert.equal(packed!.channels[index]!.filled, channel.filled, channel.header);
        same(packed!.channels[index]!.values, channel.values);
      }
    }
  });

  test('of what nobody knows, the columns with blanks are read again by themselves, and the rest once more when one of them is asked for', () => {
    const inner = textSource(
      `Time (s),Lambda,One,Two,Gaps,Holes\n${Array.from({ length: 20_000 }, (_, i) => `${i / 10},0.9,${i},${i / 2},${i % 9 ? i : ''},${i % 7 ? i : ''}`).join('\n')}\n`,
    );
    let bytes = 0;
    const session = readSessionBy(
      {
        size: inner.size,
        read: (from, to) => {
          bytes += Math.min(to, inner.size) - from;
          return inner.read(from, to);
        },
      },
      {},
      { ...WAY, packFromBytes: 0 },
    );
    const passesFor = (name: string): number => {
      bytes = 0;
      assert.equal(session.channels.find((channel) => channel.name === name)!.values.length, 20_000);
      return Math.round(bytes / inner.size);
    };
    assert.deepEqual(['Gaps', 'Holes', 'Two', 'One', 'Gaps'].map(passesFor), [1, 0, 1, 0, 0]);
  });

  test('where the known alone is wanted of a long session, columns full of numbers of which nothing is known are read when somebody asks after all', () => {
    const inner = textSource(
      `Time (s),Lambda,One,Words,Gaps,Late\n${Array.from({ length: 20_000 }, (_, i) => `${i / 10},0.9,${i},on,${i % 9 ? i : ''},${i < 19_000 ? i : ''}`).join('\n')}\n`,
    );
    let bytes = 0;
    const source = {
      size: inner.size,
      read: (from: number, to: number) => {
        bytes += Math.min(to, inner.size) - from;
        return inner.read(from, to);
      },
    };
    const [known, all, short] = [
      { knownAlone: true, leaveFromBytes: 0 },
      { leaveFromBytes: 0 },
      { knownAlone: true, leaveFromBytes: 2 << 20 },
    ].map(({ knownAlone = false, leaveFromBytes }) => readSessionBy(source, { knownAlone }, { ...WAY, leaveFromBytes })) as [
      Session,
      Session,
      Session,
    ];
    assert.deepEqual(known.problems, all.problems);
    const passesFor = (session: Session, name: string): number => {
      bytes = 0;
      const of = session.channels.find((channel) => channel.name === name)!,
        expected = all.channels[of.index]!;
      same(of.values, expected.values);
      assert.equal(of.filled, expected.filled);
      return Math.round(bytes / inner.size);
    };
    assert.deepEqual(
      ['Lambda', 'Words', 'Gaps', 'Late', 'One', 'Late'].map((name) => passesFor(known, name)),
      [0, 0, 0, 1, 1, 0],
    );
    assert.deepEqual(
      ['One', 'Late'].map((name) => [passesFor(all, name), passesFor(short, name)]),
      [
        [0, 0],
        [0, 0],
      ],
    );
  });
});
