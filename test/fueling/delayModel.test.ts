// The delay's arithmetic on engines whose flow steps: worked on paper from the conservation of mass, and from the hyperbola that a gas part
// is.

import assert from 'node:assert/strict';
import {
  ASSUMED_DELAY,
  describe,
  givenDelay,
  injectedAt,
  wholeDelayS,
  type PhysicalDelay,
} from '../../server/src/fueling/delay/delayModel.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { passedG } from '../../server/src/fueling/delay/gasPassed.js';
import { EXHAUST_OVER_AIR } from '../../server/src/signals/mixture/delay.js';
import type { Track } from '../../server/src/fueling/track.js';

const RPM = 3000,
  CYCLE_S = 0.04,
  STEP_S = 0.001;
const rows = (count: number, of: (timeS: number) => number): Float64Array =>
  Float64Array.from({ length: count }, (_, row) => of(row * STEP_S));
const engine = (count: number, flowAt: (timeS: number) => number): Track =>
  ({
    timeS: rows(count, (timeS) => timeS),
    rpm: rows(count, () => RPM),
    exhaustGPerS: rows(count, flowAt),
    reason: new Uint8Array(count),
    unseenS: 0,
  }) as unknown as Track;
const model: PhysicalDelay = { kind: 'physical', cycles: 1, gasG: 2, stirred: 0, lagS: 0, latencyS: 0.02 };
const ageAt = (track: Track, row: number): number => {
  const [at] = injectedAt(track, Int32Array.of(row), model, passedG(track));
  return track.timeS[row] - STEP_S * at;
};

suite('transport delay', () => {
  test('at a steady flow it is its parts added up', () => {
    for (const flow of [10, 3.4342, 113.4619])
      assert.ok(
        Math.abs(
          ageAt(
            engine(1000, () => flow),
            990,
          ) - wholeDelayS(model, flow, RPM),
        ) < 1e-9,
        `${flow} g/s`,
      );
  });

  test('from idle to full load the gas takes shorter by more than the flow is more: by as much as it is hotter, less what the pressure is more', () => {
    // p V / (R T): reference figures of an engine of two litres, 3.4342 g/s at 101 kPa and 113.4619 g/s at 115 kPa; from 500 to 850 °C, or
    // by Heywood (1988, ch. 6.5, from memory) from 350 to 900 °C.
    const gasS = (flow: number): number => wholeDelayS({ ...model, cycles: 0, latencyS: 0 }, flow, RPM),
      thinner = gasS(3.4342) / gasS(113.4619) / (113.4619 / 3.4342);
    const [least, most] = [
      [500, 850],
      [350, 900],
    ].map(([idleC, fullC]) => ((101 / 115) * (fullC + 273.15)) / (idleC + 273.15));
    assert.ok(thinner > least && thinner < most, `${thinner}, not ${least} to ${most}`);
  });

  test('a car whose log tells nothing has the pipe of the reference figures, as wide as its displacement asks for', () => {
    const gasOf = (displacementL?: number): number => {
      const { model: assumed } = givenDelay({ ...EMPTY_VEHICLE, engine: displacementL === undefined ? {} : { displacementL } });
      return assumed.kind === 'physical' ? assumed.gasG : NaN;
    };
    const gramsOf = (litres: number): number => ((101325 * litres * 1e-3) / (288 * 773.15)) * 1e3;
    for (const [displacementL, litres] of [
      [undefined, 1.5],
      [2, 1.5],
      [1.2, 0.9],
      [6, 4.5],
    ] as const)
      assert.ok(Math.abs(gasOf(displacementL) / gramsOf(litres) - 1) < 0.01, `${displacementL} L: ${gasOf(displacementL)} g`);
  });

  test('what pushes the gas on left the cylinders, and was taken in between 240 and 360 degrees earlier', () => {
    // The intake's flow rises tenfold at 1 s. What is read at 1.05 s has been pushed by what was taken in up to 1.05 − 0.02 (latency) less
    // 240 to 360 of 720 degrees: 10 g/s × a + 100 g/s × b = 2 g, b the part after the step.
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
      const track = engine(40000, () => 10),
        thinned = <T extends Float64Array | Uint8Array>(column: T): T => column.filter((_, row) => row % every === 0) as T;
      return describe(
        { ...track, timeS: thinned(track.timeS), rpm: thinned(track.rpm!), exhaustGPerS: thinned(track.exhaustGPerS) },
        { model, from: 'log', covariance: new Array<number>(16).fill(0) },
      ).deviationS;
    };
    assert.ok(Math.abs(of(100) ** 2 - of(1) ** 2 - (0.1 ** 2 - 0.001 ** 2) / 12) < 1e-6, `${of(100)} and ${of(1)}`);
    const repeated = describe(
      { ...engine(40000, () => 10), unseenS: 0.05 },
      { model, from: 'log', covariance: new Array<number>(16).fill(0) },
    ).deviationS;
    assert.ok(Math.abs(repeated ** 2 - of(1) ** 2 - 0.05 ** 2) < 1e-6, `${repeated} and ${of(1)}`);
  });

  test("what is told, and what a vehicle file states, goes by the air's flow: exhaust is air and a fourteenth of fuel", () => {
    const track = engine(40000, () => 15 + 1),
      { byFlow } = describe(track, { model: ASSUMED_DELAY, from: 'log', covariance: new Array<number>(16).fill(0) });
    assert.ok(Math.abs(byFlow[0][0] - 15) < 0.1, `${byFlow[0][0]}`);
    assert.ok(
      Math.abs(
        wholeDelayS(
          {
            kind: 'stated',
            byFlow: [
              [15, 0.2],
              [30, 0.1],
            ],
            lagS: 0,
          },
          1.5 * 16,
          RPM,
        ) - 0.15,
      ) < 0.002,
    );
  });

  test('a straight line between two points told is within a twentieth of the delay, from idle to full load', () => {
    const track = engine(40000, (timeS) => 2 * Math.exp(timeS / 10));
    const { byFlow } = describe(track, { model: ASSUMED_DELAY, from: 'log', covariance: new Array<number>(16).fill(0) });
    assert.ok(byFlow.length >= 5 && byFlow.every(([flow], at) => at === 0 || flow > byFlow[at - 1][0]));
    for (let at = 1; at < byFlow.length; at++) {
      const [[f0, s0], [f1, s1]] = [byFlow[at - 1], byFlow[at]];
      const told = (s0 + s1) / 2,
        right = wholeDelayS(ASSUMED_DELAY, (EXHAUST_OVER_AIR * (f0 + f1)) / 2, RPM);
      assert.ok(Math.abs(told / right - 1) < 0.05, `${told} for ${right} at ${(f0 + f1) / 2} g/s`);
    }
  });
});
