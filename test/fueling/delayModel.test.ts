// The delay's arithmetic on engines whose flow steps: worked on paper from the conservation of mass, and from the hyperbola that a gas part is.

import assert from 'node:assert/strict';
import { ASSUMED_DELAY, describe, injectedAt, passedG, wholeDelayS, type PhysicalDelay } from '../../server/src/fueling/delayModel.js';
import { EXHAUST_OVER_AIR } from '../../server/src/signals/delay.js';
import type { Track } from '../../server/src/fueling/track.js';

const RPM = 3000, CYCLE_S = 0.04, STEP_S = 0.001;
const rows = (count: number, of: (timeS: number) => number): Float64Array => Float64Array.from({ length: count }, (_, row) => of(row * STEP_S));
const engine = (count: number, flowAt: (timeS: number) => number): Track => ({
  timeS: rows(count, (timeS) => timeS), rpm: rows(count, () => RPM), exhaustGPerS: rows(count, flowAt), reason: new Uint8Array(count),
} as unknown as Track);
const model: PhysicalDelay = { kind: 'physical', cycles: 1, gasG: 2, stirred: 0, lagS: 0, latencyS: 0.02 };
const ageAt = (track: Track, row: number): number => {
  const [at] = injectedAt(track, Int32Array.of(row), model, passedG(track));
  return track.timeS[row] - STEP_S * at;
};

suite('transport delay', () => {
  test('at a steady flow it is its parts added up', () => {
    assert.ok(Math.abs(ageAt(engine(1000, () => 10), 900) - wholeDelayS(model, 10, RPM)) < 1e-9);
  });

  test('what pushes the gas on left the cylinders, and was taken in between 240 and 360 degrees earlier', () => {
    // The intake's flow rises tenfold at 1 s. What is read at 1.05 s has been pushed by what was taken in up to 1.05 − 0.02 (latency) less 240 to
    // 360 of 720 degrees: 10 g/s × a + 100 g/s × b = 2 g, b the part after the step.
    const track = engine(1200, (timeS) => (timeS < 0.9995 ? 10 : 100));
    const between = [240 / 720, 360 / 720].map((shut) => {
      const afterS = 1.05 - 0.02 - shut * CYCLE_S - 1;
      return 0.05 + (2 - 100 * afterS) / 10 + (1 - shut) * CYCLE_S;
    });
    const age = ageAt(track, 1050);
    assert.ok(age > Math.min(...between) - 0.01 && age < Math.max(...between) + 0.01, `${age} of ${between.join(' to ')}`);
    // Were it pushed by what is only being taken in, nothing older than the step would be left of it: 100 g/s × 0.03 s is more than 2 g.
    assert.ok(age > 0.03 + model.latencyS + CYCLE_S);
  });

  test('a delay found in a log is told no better than its rows: uniform over one, step / √12', () => {
    const of = (every: number): number => {
      const track = engine(40000, () => 10), thinned = <T extends Float64Array | Uint8Array>(column: T): T => column.filter((_, row) => row % every === 0) as T;
      return describe({ ...track, timeS: thinned(track.timeS), rpm: thinned(track.rpm!), exhaustGPerS: thinned(track.exhaustGPerS) }, { model, from: 'log', covariance: new Array<number>(16).fill(0) }).deviationS;
    };
    assert.ok(Math.abs(of(100) ** 2 - of(1) ** 2 - (0.1 ** 2 - 0.001 ** 2) / 12) < 1e-6, `${of(100)} and ${of(1)}`);
  });

  test('what is told, and what a vehicle file states, goes by the air\'s flow: exhaust is air and a fourteenth of fuel', () => {
    const track = engine(40000, () => 15 + 1), { byFlow } = describe(track, { model: ASSUMED_DELAY, from: 'log', covariance: new Array<number>(16).fill(0) });
    assert.ok(Math.abs(byFlow[0][0] - 15) < 0.1, `${byFlow[0][0]}`);
    assert.ok(Math.abs(wholeDelayS({ kind: 'stated', byFlow: [[15, 0.2], [30, 0.1]], lagS: 0 }, 1.5 * 16, RPM) - 0.15) < 0.002);
  });

  test('a straight line between two points told is within a twentieth of the delay, from idle to full load', () => {
    const track = engine(40000, (timeS) => 2 * Math.exp(timeS / 10));
    const { byFlow } = describe(track, { model: ASSUMED_DELAY, from: 'log', covariance: new Array<number>(16).fill(0) });
    assert.ok(byFlow.length >= 5 && byFlow.every(([flow], at) => at === 0 || flow > byFlow[at - 1][0]));
    for (let at = 1; at < byFlow.length; at++) {
      const [[f0, s0], [f1, s1]] = [byFlow[at - 1], byFlow[at]];
      const told = (s0 + s1) / 2, right = wholeDelayS(ASSUMED_DELAY, EXHAUST_OVER_AIR * (f0 + f1) / 2, RPM);
      assert.ok(Math.abs(told / right - 1) < 0.05, `${told} for ${right} at ${(f0 + f1) / 2} g/s`);
    }
  });
});
