// The words that spells share: numbers in one message agree with each other.

import assert from 'node:assert/strict';
import { apartText, lastingS, longestLeaps, worstFew } from '../../server/src/findings/spell.js';
import type { Channel } from '../../server/src/formats/session/session.js';
import { byStart } from '../../server/src/signals/faults/byStart.js';
import { ChannelFaults, Leaps } from '../../server/src/signals/faults/channelFaults.js';
import type { Fault, Signals } from '../../server/src/signals/signals.js';
import { randomOf } from '../support/simulator/random.js';

suite('findings: words of a spell', () => {
  test('a difference is that of the numbers shown beside it', () => {
    // By hand: 0.9751 and 0.8349 are 0.1402 apart, but shown as 0.98 and 0.83 a reader makes it 0.15.
    assert.equal(apartText(0.9751, 0.8349, 2), '0.15');
    assert.equal(apartText(0.83, 0.83, 2), '0.00');
  });

  test('the longest of many leaps and a few others are those of sorting them all', () => {
    const { next } = randomOf(4711),
      channel = {} as Channel;
    for (let round = 0; round < 200; round++) {
      const leaps = new Leaps(channel, String),
        others: Fault[] = [],
        many = Math.floor(next() * 150),
        rows = 20 * many + 40;
      // Whole seconds, so that many last equally long; a leap may begin with another fault.
      const signals = { timeS: Float64Array.from({ length: rows }, (_, i) => i / 2) } as unknown as Signals;
      for (let k = 0, from = 1; k < many; k++, from += 2 + Math.floor(next() * 9)) {
        leaps.push(from, from + 1 + Math.floor(next() * 6), k);
        if (next() < 0.1)
          others.push({ kind: 'dropout', channel, shape: 'blank', value: NaN, from, to: from + 1 + Math.floor(next() * 8), data: {} });
      }
      const { all } = ChannelFaults.of(leaps, others),
        longer = (a: Fault, b: Fault): number => lastingS(signals, b) - lastingS(signals, a);
      assert.ok(all.length === many + others.length && all.every(({ from }, k) => k === 0 || all[k - 1].from <= from));
      const longest = longestLeaps(signals, leaps),
        told = worstFew(byStart([...longest, ...others]), longer, undefined, leaps.size - longest.length);
      const expected =
        all.length <= 5
          ? [...all]
          : all
              .map((fault, place) => ({ fault, place }))
              .sort((a, b) => longer(a.fault, b.fault) || a.place - b.place)
              .slice(0, 5)
              .map(({ fault }) => fault);
      assert.deepEqual(
        told.map(({ spell }) => [spell.from, spell.to, spell.shape]),
        expected.map(({ from, to, shape }) => [from, to, shape]),
      );
      assert.equal(
        told.reduce((sum, { more }) => sum + more, 0),
        all.length - told.length,
      );
    }
  });
});
