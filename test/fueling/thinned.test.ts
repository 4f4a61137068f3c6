// A session by some of its rows: which, and what is kept of each. Arithmetic on stated inputs.

import assert from 'node:assert/strict';
import { thinned } from '../../server/src/fueling/delay/thinned.js';
import type { Track } from '../../server/src/fueling/track.js';

suite('a session by some of its rows', () => {
  const size = 1000;
  /** A hundred rows a second that each tell their number, read from `first` on at every `every`th. */
  const track = (first: number, every: number, most = Infinity): Track => {
    const number = Float64Array.from({ length: size }, (_, row) => row);
    const row = Int32Array.from({ length: Math.min(most, Math.ceil((size - first) / every)) }, (_, at) => first + at * every);
    const of = Float64Array.from(row),
      columns = [
        'columnPosition',
        'rowPosition',
        'commanded',
        'target',
        'lnTarget',
        'exhaustGPerS',
        'passed',
        'meteredGPerS',
        'film',
        'chargeFilm',
        'rpm',
        'filling',
      ];
    return {
      ...Object.fromEntries(columns.map((name) => [name, number])),
      timeS: number.map((each) => each / 100),
      reason: new Uint8Array(size),
      readings: { kind: 'lambda', row, lnLambda: of, lnShown: of, bankSpread: of },
    } as unknown as Track;
  };

  test('is of the same moments in every column, and each reading stands within half a step of where it was read', () => {
    for (const [first, every] of [
      [0, 1],
      [7, 5],
      [3, 40],
      [999, 1],
    ]) {
      const { timeS, rpm, filling, unasked, readings, reason } = thinned(track(first, every)),
        stepS = timeS[1] - timeS[0];
      assert.ok(stepS > 0.1 && stepS <= 0.15);
      assert.ok(
        rpm!.every((value, row) => value === Math.round(100 * timeS[row])) &&
          filling!.length === timeS.length &&
          reason.length === timeS.length &&
          unasked === undefined,
      );
      readings.row.forEach((row, at) => {
        assert.ok(
          row < timeS.length &&
            Math.abs(timeS[row] - readings.lnLambda[at] / 100) <= stepS / 2 + 1e-9 + 0.1 * Number(row === timeS.length - 1),
          `${first}, ${every}: ${row}`,
        );
        assert.ok(readings.lnShown[at] === readings.lnLambda[at] && readings.bankSpread![at] === readings.lnLambda[at]);
      });
    }
  });

  test('leaves out a row for whatever spoils any up to the next', () => {
    const spoilt = track(0, 1);
    spoilt.reason[100] = 2;
    spoilt.reason[101] = 3;
    const { reason, timeS } = thinned(spoilt);
    assert.deepEqual(
      [...reason].flatMap((each, row) => (each ? [[each, timeS[row] <= 1.01 && timeS[row] > 0.85]] : [])),
      [[3, true]],
    );
  });

  test('without readings, of one, of rows slow enough, and of a single row, nothing is made up', () => {
    assert.equal(thinned(track(0, 1, 0)).readings.row.length, 0);
    assert.ok(thinned(track(5, 1, 1)).readings.row.length <= 1);
    const slow = { ...track(0, 1), timeS: Float64Array.from({ length: size }, (_, row) => row / 5) };
    assert.equal(thinned(slow), slow);
    const one = { ...track(0, 1), timeS: Float64Array.of(3) };
    assert.equal(thinned(one), one);
  });
});
