// A slow sensor whose log tells no delay but by the way it comes back from air: an old one's time constant is several times what is usual
// (0.02 to 0.10 s in gas flow, reference figures). By hand: a table that is right, pulls, and cuts that a foot ends; what is burnt is the
// target, and lambda follows it with a delay of 0.1 s and a lag of 0.5 s.

import assert from 'node:assert/strict';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { weighSession } from '../../server/src/fueling/weigh.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { normalFrom, randomFrom, sessionOf } from './tinyEngine.js';

const STEP_S = 0.05,
  ROUND_S = 30,
  LATE_S = 0.1;
const isPull = (t: number): boolean => t % ROUND_S >= 12 && t % ROUND_S < 17,
  isCut = (t: number): boolean => t % ROUND_S >= 17 && t % ROUND_S < 21;
const table = readTable(
  '# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,2000,4000,6000\n30,80,80,80\n90,80,80,80\n160,80,80,80\n',
);

const delay = (lagS: number) => {
  const normal = normalFrom(randomFrom(3)),
    timeS = Array.from({ length: 9600 }, (_, i) => i * STEP_S);
  const target = (t: number): number => (isPull(t) ? 0.86 : 1);
  let shown = 1;
  const lambda = timeS.map(
    (t) =>
      Math.min(1.6, (shown += ((isCut(t - LATE_S) ? 2.4 : target(t - LATE_S)) - shown) * (1 - Math.exp(-STEP_S / lagS)))) *
      Math.exp(0.004 * normal()),
  );
  const column = (
    quantity: 'engine-speed' | 'throttle' | 'manifold-pressure' | 'lambda' | 'target-lambda',
    of: (t: number, i: number) => number,
  ) => ({ quantity, values: Float64Array.from(timeS, of) });
  const signals = analyse(
    sessionOf(timeS, [
      column(
        'engine-speed',
        (t) => (isPull(t) ? 2500 + 600 * ((t % ROUND_S) - 12) : isCut(t) ? 5500 - 700 * ((t % ROUND_S) - 17) : 2500) + 4 * normal(),
      ),
      column('throttle', (t) => (isPull(t) ? 100 : isCut(t) ? 0 : 20) + 0.1 * Math.abs(normal())),
      column('manifold-pressure', (t) => (isPull(t) ? 150 : isCut(t) ? 25 : 55) + 0.3 * normal()),
      column('lambda', (_, i) => lambda[i]),
      column('target-lambda', target),
    ]),
    EMPTY_VEHICLE,
  );
  return weighSession(signals, table).weight;
};

suite('the delay of a log that tells none', () => {
  test('is that of a sensor as slow as its fuel cuts show', () => {
    const {
      transportDelay: { from, medianS },
      assumed,
    } = delay(0.5);
    assert.equal(from, 'assumed');
    assert.ok(medianS > 0.4 && medianS < 0.8, `${medianS}`);
    assert.match(assumed.join(), /a sensor lag of 0\.[45]\d s/);
  });
  test('is the usual one of a sound sensor', () => {
    const {
      transportDelay: { medianS },
    } = delay(0.06);
    assert.ok(medianS < 0.25, `${medianS}`);
  });
});
