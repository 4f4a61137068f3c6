// Runs of equal readings that last are found without looking at each reading: the same as by looking at each.

import assert from 'node:assert/strict';
import { Shelf } from '../../server/src/formats/shelf.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import type { Track } from '../../server/src/signals/columns/hold.js';
import { lastingRuns } from '../../server/src/signals/columns/lasting.js';
import { median } from '../../server/src/signals/columns/statistics.js';
import { randomOf } from '../support/simulator/random.js';

/** The shortest that any fault of standing still asks for: `dropoutS`. */
const LEAST_S = 0.18;

suite('runs of equal readings', () => {
  test('none that lasts is passed over, and none that does not is told, whatever the clock does', () => {
    const { next } = randomOf(20261128);
    let runs = 0,
      alone = 0;
    for (let round = 0; round < 400; round++) {
      const count = 1 + Math.floor(next() * 400),
        stepS = [0.005, 0.02, 0.05, 0.1, 0.5][round % 5],
        holes = next() < 0.5 ? 0.02 : 0,
        jitter = next() < 0.5 ? 0.4 : 0,
        still = next();
      const timeS = new Float64Array(count),
        values = new Float64Array(count);
      for (let i = 1; i < count; i++) {
        timeS[i] = timeS[i - 1] + stepS * (1 + jitter * (next() - 0.5)) + (next() < holes ? next() : 0);
        values[i] = next() < still ? values[i - 1] : Math.floor(next() * 4);
      }
      const wanted: number[] = [];
      for (let from = 0, to = 0; from < count; from = to) {
        while (to < count && values[to] === values[from]) to++;
        if (timeS[Math.min(to, count - 1)] - timeS[from] >= LEAST_S) {
          wanted.push(from);
          if (to === from + 1) alone++;
        }
      }
      const rows = Int32Array.from({ length: count }, (_, i) => i),
        steps = Float64Array.from({ length: count - 1 }, (_, i) => timeS[i + 1] - timeS[i]);
      const track = { values, rows, count, spacingS: count > 1 ? median(steps) : 0 } as unknown as Track;
      assert.deepEqual(
        [...lastingRuns({ vehicle: EMPTY_VEHICLE, timeS, session: { shelf: new Shelf() } }, track)],
        wanted,
        `round ${round}`,
      );
      runs += wanted.length;
    }
    assert.ok(runs > 3000 && alone > 100, `${runs} runs, ${alone} of one reading before a hole`);
  });
});
