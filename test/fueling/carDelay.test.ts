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

/** A session that was driven round one flow and told these parts, as surely as said. */
const session = (
  parts: { cycles?: number; gasG?: number; lagS?: number; latencyS?: number },
  { flow = 20, cyclesDeviation = 0, lnGasDeviation = 0.05, lnLagDeviation = 0, latencyDeviationS = 0.01, sensor = 'Lambda' } = {},
): { weight: SessionWeight } => {
  const fit: DelayFit = {
    cycles: 1,
    gasG: 1,
    assumedGasG: 1,
    lagS: 0.06,
    latencyS: 0.01,
    ...parts,
    rowS: 0,
    sensor,
    flowGPerS: flow,
    rpm: 2500,
    rpmAt: [2500, 2500, 2500],
    covariance: [cyclesDeviation, lnGasDeviation, lnLagDeviation, latencyDeviationS].flatMap((each, at) =>
      [0, 1, 2, 3].map((other) => (at === other ? each ** 2 : 0)),
    ),
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
    // Each log reads the parts to half of what they are known to beforehand, and is told the mean by Bayes' rule; what the delay's shape
    // leaves open shifts it by some 14 ms.
    const usual = [1, 0, Math.log(0.06), 0.01],
      deviations = [0.15, 0.7, 0.45, 0.01],
      told = deviations.map((each) => each * Math.sqrt(1 / 5));
    for (let car = 0; car < 300; car++) {
      const true_ = usual.map((each, at) => each + deviations[at] * normal());
      const truth = { cycles: true_[0], gasG: Math.exp(true_[1]), lagS: Math.exp(true_[2]), latencyS: true_[3] };
      const sessions = Array.from({ length: 4 }, () => {
        const [cycles, lnGas, lnLag, latencyS] = true_.map(
          (each, at) => usual[at] + 0.8 * (each + (deviations[at] / 2) * normal() - usual[at]) + (at === 3 ? 0.014 * normal() : 0),
        );
        return session(
          { cycles, gasG: Math.exp(lnGas), lagS: Math.exp(lnLag), latencyS },
          {
            flow: 15 + 30 * random(),
            cyclesDeviation: told[0],
            lnGasDeviation: told[1],
            lnLagDeviation: told[2],
            latencyDeviationS: told[3],
          },
        );
      });
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
    assert.ok(Math.sqrt(alone / count) > 0.015);
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

  test('what one log tells and another does not goes together: a creeping one knows the gas, a fast one the rest', () => {
    const deviations = { cyclesDeviation: 0.15, lnLagDeviation: 0.45, latencyDeviationS: 0.01 },
      // The sensor's lag is 0.09 s: the one that crept was not told, and keeps what is assumed.
      crept = session({ gasG: 1.5 }, { ...deviations, flow: 8, lnGasDeviation: 0.05 }),
      ran = Array.from({ length: 6 }, () => session({ gasG: 1, lagS: 0.09 }, { flow: 100, lnGasDeviation: 0.7, lnLagDeviation: 0.05 })),
      trueS = wholeS({ cycles: 1, gasG: 1.5, lagS: 0.09, latencyS: 0.01 }, 8, 2500),
      ownS = crept.weight.transportDelay.medianS,
      [together] = medians([crept, ...ran]);
    assert.ok(together - ownS > 0.6 * (trueS - ownS) && together - ownS < 1.1 * (trueS - ownS), `${together} of ${trueS}, alone ${ownS}`);
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
    // Nor numbers of a file that are no covariance of anything.
    for (const covariance of [Array<number>(16).fill(-3), Array.from({ length: 16 }, (_, at) => at * 1e5)]) {
      const { weight } = session({}),
        odd = { weight: { ...weight, transportDelay: { ...weight.transportDelay, fit: { ...weight.transportDelay.fit!, covariance } } } };
      assert.ok(medians([session({}), odd, session({})]).every((each) => each > 0.1));
    }
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
