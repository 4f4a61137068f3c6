// A car's sessions tell its delay together: against the law of the mean (errors of n logs that are each by themselves shrink by √n), on
// cars drawn at random.

import assert from 'node:assert/strict';
import { delaysOfCar } from '../../server/src/fueling/delay/carDelay.js';
import type { DelayFit, SessionWeight } from '../../server/src/fueling/evidence.js';
import { delayAlongS } from '../../server/src/signals/mixture/delay.js';
import { normalFrom, randomFrom } from './tinyEngine.js';

/** Cycles, gas, lag and latency add up to the whole delay: 120 s/rpm × cycles, gas over exhaust flow. */
const wholeS = (
  { cycles, gasG, lagS, latencyS }: Pick<DelayFit, 'cycles' | 'gasG' | 'lagS' | 'latencyS'>,
  exhaustGPerS: number,
  rpm: number,
): number => (cycles * 120) / rpm + gasG / exhaustGPerS + lagS + latencyS;

/** A session that was driven round one flow and told these parts, the latency and ln of the gas as surely as said. */
const session = (
  parts: { gasG?: number; lagS?: number; latencyS?: number },
  { flow = 20, latencyDeviationS = 0.01, lnGasDeviation = 0.05, sensor = 'Lambda' } = {},
): { weight: SessionWeight } => {
  const fit: DelayFit = {
    cycles: 1,
    gasG: 1,
    lagS: 0.06,
    latencyS: 0.01,
    ...parts,
    rowS: 0,
    sensor,
    flowGPerS: flow,
    rpm: 2500,
    rpmAt: [2500, 2500, 2500],
    covariance: [0, 0, 0, 0, 0, lnGasDeviation ** 2, 0, 0, 0, 0, 0, 0, 0, 0, 0, latencyDeviationS ** 2],
  };
  const byFlow = [0.5, 1, 2].map((times) => [(times * flow) / 1.07, wholeS(fit, times * flow, 2500)] as const),
    medianS = wholeS(fit, flow, 2500);
  return {
    weight: {
      session: '',
      samples: 1000,
      used: 1000,
      leftOut: {},
      assumed: [],
      transportDelay: {
        estimated: true,
        from: 'log',
        medianS,
        byFlow,
        deviationS: Math.hypot(0.02, latencyDeviationS, (lnGasDeviation * fit.gasG) / flow),
        fit,
      },
    },
  };
};
const medians = (sessions: readonly { weight: SessionWeight }[]): number[] =>
  delaysOfCar(sessions).map(({ transportDelay: { medianS } }) => medianS);

suite('the transport delay of a car by all its sessions', () => {
  test('four logs with errors of their own are together half as far off as alone, and what they say of it holds', () => {
    const random = randomFrom(5),
      normal = normalFrom(random);
    let [alone, together, within, count] = [0, 0, 0, 0];
    for (let car = 0; car < 300; car++) {
      const truth = { gasG: 0.5 + random(), lagS: 0.03 + 0.06 * random(), latencyS: 0.015 };
      const sessions = Array.from({ length: 4 }, () =>
        session({ ...truth, latencyS: truth.latencyS + 0.015 * normal() }, { latencyDeviationS: 0.015, flow: 15 + 30 * random() }),
      );
      for (const [
        at,
        {
          transportDelay: { medianS, deviationS },
        },
      ] of delaysOfCar(sessions).entries()) {
        const { fit, medianS: ownS } = sessions[at].weight.transportDelay,
          trueS = wholeS({ ...fit!, ...truth }, fit!.flowGPerS, 2500);
        alone += (ownS - trueS) ** 2;
        together += (medianS - trueS) ** 2;
        count++;
        if (Math.abs(medianS - trueS) < 1.96 * deviationS) within++;
      }
    }
    assert.ok(Math.abs(Math.sqrt(alone / count) - 0.015) < 0.001);
    // Half, and a little more for the doubt whether it is the same sensor.
    assert.ok(Math.sqrt(together / alone) < 0.62, `${Math.sqrt(together / alone)}`);
    assert.ok(within / count > 0.95, `${within / count}`);
  });

  test('each is asked where it is sure: what goes with flow comes from the logs that tell it', () => {
    // One log crept at 8 g/s and knows the gas to 5 %; the other ran at 80 g/s and took it for half as much.
    const crept = session({ gasG: 1.2 }, { flow: 8 }),
      ran = session({ gasG: 0.6 }, { flow: 80, lnGasDeviation: 0.6 });
    const [
        ,
        {
          transportDelay: { byFlow },
        },
      ] = delaysOfCar([crept, ran]),
      low = delayAlongS(byFlow, 40 / 1.07),
      own = wholeS(ran.weight.transportDelay.fit!, 40, 2500),
      right = wholeS(crept.weight.transportDelay.fit!, 40, 2500);
    assert.ok(low > own + 0.3 * (right - own) && low <= right, `${low} between ${own} and ${right}`);
    const [creptS] = medians([crept, ran]);
    assert.ok(Math.abs(creptS - crept.weight.transportDelay.medianS) < 0.012, `${creptS}`);
  });

  test('a log with a slow sensor among others keeps its own delay, and the others theirs', () => {
    const usual = Array.from({ length: 3 }, (_, at) => session({ latencyS: 0.008 + 0.002 * at })),
      slow = session({ lagS: 0.2 }),
      all = medians([...usual, slow]);
    assert.ok(Math.abs(all[3] - slow.weight.transportDelay.medianS) < 0.004, `${all[3]}`);
    for (const [at, own] of usual.entries()) assert.ok(Math.abs(all[at] - own.weight.transportDelay.medianS) < 0.004, `${all[at]}`);
    assert.ok(all.every((each) => each > 0));
    // However far: no number of such logs becomes none.
    assert.ok(medians([session({}), session({ lagS: 2 })]).every((each) => each > 0.1));
  });

  test('sensors that are called otherwise, copies, and logs that tell nothing stand by themselves', () => {
    const one = session({}),
      other = session({ latencyS: 0.03 }, { sensor: 'AFR 2' }),
      copy = session({ latencyS: 0.03 });
    const counted = { weight: { ...copy.weight, leftOut: { 'same-readings': 1000 } } },
      { fit: _, ...unfitted } = copy.weight.transportDelay,
      silent = { weight: { ...copy.weight, transportDelay: unfitted } };
    const list = [one, other, counted, silent];
    assert.deepEqual(
      delaysOfCar(list),
      list.map(({ weight }) => weight),
    );
    assert.deepEqual(delaysOfCar([]), []);
  });
});
