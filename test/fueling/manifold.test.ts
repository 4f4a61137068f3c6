// What a manifold lets through, against small steps of its balance: what is in it grows by what comes in less what is drawn.

import { deepEqual, ok } from 'node:assert/strict';
import { MANIFOLD_CYCLES, drawnFlow, lnFilling } from '../../server/src/fueling/delay/manifold.js';
import { scoreWeighing } from '../support/accuracy/blindDrive.js';
import { weighFolder } from '../support/accuracy/weighFolder.js';
import { makeCar, simulateDrive, vehicleFolder } from '../support/simulator/index.js';

const rows = 400,
  stepS = 0.02;
const timeS = Float64Array.from({ length: rows }, (_, row) => row * stepS);

suite('what the cylinders draw behind an air meter', () => {
  test('follows a throttle that opens and shuts as the balance of the manifold says', () => {
    const metered = Float64Array.from({ length: rows }, (_, row) =>
      row < 100 ? 10 : row < 110 ? 10 + 4 * (row - 100) : row < 250 ? 50 : row < 258 ? 50 - 5 * (row - 250) : 10,
    );
    const rpm = Float64Array.from({ length: rows }, (_, row) => 1800 + 2 * row);
    const drawn = drawnFlow(metered, timeS, rpm),
      filling = lnFilling(drawn, metered);
    // Holding goes with the draw of a cycle: m = N × draw × 120/rpm.
    let held = (MANIFOLD_CYCLES * metered[0] * 120) / rpm[0];
    for (let row = 1; row < rows; row++) {
      for (let part = 0; part < 200; part++) {
        const share = (part + 0.5) / 200,
          speed = rpm[row - 1] + share * (rpm[row] - rpm[row - 1]);
        held += (stepS / 200) * (metered[row - 1] + share * (metered[row] - metered[row - 1]) - (held * speed) / 120 / MANIFOLD_CYCLES);
      }
      const expected = (held * rpm[row]) / 120 / MANIFOLD_CYCLES;
      ok(Math.abs(drawn[row] / expected - 1) < 0.02, `row ${row}: ${drawn[row]} for ${expected} g/s`);
      // Fuelled by what the meter sees, the mixture is lean by what is drawn beyond it, and rich by what stays behind.
      const lambda = expected / metered[row];
      ok(Math.abs(Math.exp(filling[row]) / lambda - 1) < 0.02, `row ${row}: ${filling[row]} for lambda ${lambda}`);
    }
    ok(Math.max(...filling) > 0.3 && Math.min(...filling) < -0.3);
  });

  test('takes what is metered where the engine stands, and is not spoilt by it behind', () => {
    const metered = new Float64Array(rows).fill(5),
      rpm = Float64Array.from({ length: rows }, (_, row) => (row < 50 ? 0 : 900));
    deepEqual(drawnFlow(metered, timeS, rpm), metered);
  });

  for (const seed of [504, 507])
    test(`is foreseen by the controller, and no channel says so: the delay is found all the same (car ${seed})`, () => {
      const { ecu, log } = makeCar('air-flow', seed),
        channels = log.channels.filter((each) => !/^injector|^fuel-cut/.test(each)),
        car = makeCar('air-flow', seed, { ecu: { ...ecu, foreseesFilling: true }, log: { ...log, channels } });
      const drive = simulateDrive({ car, seed, minutes: 8, driver: 'street', start: 'warm' }),
        { delayErrorS } = scoreWeighing(drive, weighFolder(vehicleFolder([drive])), 'street');
      ok(Math.abs(delayErrorS) <= 0.025, `${delayErrorS}`);
    }).timeout(60_000);
});
