// The reader against the second decoder, on random captures: several controllers, messages cut in frames and interleaved, frames lost,
// other traffic between.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { readCandump } from '../../../server/src/formats/can/readCandump.js';
import { textSource } from '../../../server/src/formats/source.js';
import { framesOf, lineAt } from './frames.js';
import { ENTRIES, decode } from './independentDecoder.js';

const UNITS = ['7E8', '7E9', '7EF', '18DAF110', '18DAF118'];
const hexOf = (bytes: Uint8Array): string => Buffer.from(bytes).toString('hex').toUpperCase();
const bytes = (count: number): fc.Arbitrary<string> => fc.uint8Array({ minLength: count, maxLength: count }).map(hexOf);

const item = fc
  .constantFrom(...ENTRIES.keys())
  .chain((identifier) => bytes(ENTRIES.get(identifier)!.bytes).map((data) => identifier + data));
// An answer names each identifier once; FE is one that neither decoder knows.
const payload = fc.oneof(
  {
    weight: 6,
    arbitrary: fc
      .uniqueArray(item, { minLength: 1, maxLength: 6, selector: (each) => each.slice(0, 2) })
      .map((items) => `41${items.join('')}`),
  },
  {
    weight: 2,
    arbitrary: fc
      .record({ service: fc.constantFrom('43', '47', '4A'), codes: fc.array(bytes(2), { maxLength: 60 }), more: fc.nat(2) })
      .map(({ service, codes, more }) => service + (codes.length + more).toString(16).toUpperCase().padStart(2, '0') + codes.join('')),
  },
  { weight: 1, arbitrary: bytes(20).map((data) => `4902${data}`) },
  { weight: 1, arbitrary: fc.record({ first: item, rest: bytes(5) }).map(({ first, rest }) => `41${first}FE${rest}`) },
);
/** Which queue the next frame comes from, after how long, and whether it is lost. */
const turn = fc.record({ queue: fc.nat(4), stepUs: fc.integer({ min: 1, max: 9000 }), lost: fc.nat(60), other: fc.nat(30) });

const capture = fc
  .record({
    messages: fc.array(fc.record({ unit: fc.nat(4), payload }), { minLength: 1, maxLength: 25 }),
    turns: fc.array(turn, { minLength: 5, maxLength: 40 }),
  })
  .map(({ messages, turns }) => {
    const queues = UNITS.map((_, unit) =>
      messages.filter((message) => message.unit === unit).flatMap((message) => framesOf(message.payload)),
    );
    const lines: string[] = [];
    let clockUs = 999_000;
    for (let at = 0; queues.some((queue) => queue.length > 0); at++) {
      const { queue, stepUs, lost, other } = turns[at % turns.length];
      clockUs += stepUs;
      const from = [0, 1, 2, 3, 4].map((shift) => (queue + shift + at) % 5).find((index) => queues[index].length > 0)!;
      const frame = queues[from].shift()!;
      if (other === 0) lines.push(lineAt(clockUs, '3A0', '0011223344556677'));
      if (other === 1) lines.push(lineAt(clockUs, '7E0', '300000AAAAAAAAAA'));
      if (other === 2) lines.push('garbage in between');
      if (lost > 0) lines.push(lineAt(clockUs, UNITS[from], frame));
    }
    return lines.join('\n');
  });

suite('captures, by two decoders', () => {
  test('every reading, at its time, and every code', () => {
    let compared = 0;
    fc.assert(
      fc.property(capture, (text) => {
        const session = readCandump(textSource(text));
        const expected = decode(text);
        const found = session.channels.flatMap((channel) =>
          [...channel.values.entries()]
            .filter(([, value]) => !Number.isNaN(value))
            .map(([sample, value]) => ({ name: channel.header, micros: Math.round(session.timeS[sample] * 1e6), value })),
        );
        const keyed = (readings: readonly { name: string; micros: number; value: number }[]) =>
          readings
            .map(({ name, micros, value }) => ({ key: `${name} @ ${micros}`, value }))
            .sort((a, b) => (a.key < b.key ? -1 : a.key > b.key ? 1 : a.value - b.value));
        const [ours, theirs] = [keyed(found), keyed(expected.readings)];
        assert.deepEqual(
          ours.map(({ key }) => key),
          theirs.map(({ key }) => key),
        );
        ours.forEach(({ key, value }, index) => {
          assert.ok(
            Math.abs(value - theirs[index].value) <= 1e-9 * Math.max(1, Math.abs(value)),
            `${key}: ${value} for ${theirs[index].value}`,
          );
        });
        assert.deepEqual(
          session.codes.map(({ text: code, state, controller }) => `${controller} ${state} ${code}`).sort(),
          [...expected.codes].sort(),
        );
        compared += ours.length + expected.codes.length;
      }),
      { numRuns: 200 },
    );
    assert.ok(compared > 1000, String(compared));
  });
});
