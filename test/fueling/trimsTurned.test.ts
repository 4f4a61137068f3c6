// A closed loop seen from outside. What closes it is laid down alone: air over fuel, the way to the sensor, and an integrator that adds
// fuel while its sensor reads lean, with a kick at each change as such loops have. A log may write what it adds with the other sign.

import assert from 'node:assert/strict';
import { judgedOnStreet, streetDrive } from '../support/oneTableCar.js';

interface Car {
  readonly sign: number;
  readonly swings?: boolean;
  readonly gaugeLateS?: number;
  readonly closed?: boolean;
  readonly far?: number;
}

/** `far`: how far the table is off on the whole; it is off by a few per cent more or less along the road besides. */
function drive({ sign, swings = false, gaugeLateS = 0.1, closed = true, far = 0.05 }: Car): string {
  const passed: number[] = [];
  let trim = 0,
    seen = 1;
  return streetDrive(
    'Coolant Temperature (°C),Target Lambda (λ),Lambda (λ),Short Term Fuel Trim (%),Long Term Fuel Trim (%)',
    (timeS, row) => {
      const short = far + 0.025 * Math.sin(timeS / 3) + 0.02 * Math.sin(timeS / 1.7 + 1);
      passed.push((1 + short) / (1 + (closed ? trim : 0) / 100));
      const at = (lateS: number): number => passed[Math.max(0, passed.length - 1 - Math.round(20 * lateS))];
      const before = seen;
      seen = at(0.2);
      if (swings) trim += (seen > 1 ? 0.2 : -0.2) + (seen > 1 !== before > 1 ? (seen > 1 ? 1 : -1) : 0);
      else trim += 0.05 * 100 * (seen - 1);
      trim = Math.max(-20, Math.min(20, trim));
      return [
        '88',
        '1.000',
        (at(0.2 + gaugeLateS) * (1 + 0.003 * Math.sin(row * 2.3))).toFixed(3),
        (closed ? sign * trim : 0).toFixed(1),
        '0.0',
      ];
    },
  );
}

async function judged(car: Car) {
  const { findings, offered, held, cells } = await judgedOnStreet(drive(car));
  return {
    told: findings
      .filter(({ data }) => data?.kind === 'trims-turned')
      .map(({ code, severity, message }) => `${code} ${severity}: ${message}`),
    offered,
    held,
    firm: cells.filter(({ proof }) => proof === 'firm'),
  };
}

suite('fuel trims and lambda', () => {
  for (const swings of [false, true])
    test(`the trims of a loop ${swings ? 'that swings' : 'that settles'}, with their sign turned round, are told, and no cell is corrected by them`, async () => {
      const { told, offered, held } = await judged({ sign: -1, swings });
      assert.equal(told.length, 1);
      assert.match(
        told[0],
        /^value-implausible warning: Short Term Fuel Trim moves against lambda .* its sign is turned round\. Turn the trims in vehicle\.json/,
      );
      assert.deepEqual([offered, [...held]], [0, ['trims-turned']]);
    });
  test('are not where they add fuel to what is lean, however late the gauge shows it, and where the loop is open', async () => {
    for (const swings of [false, true])
      for (const gaugeLateS of [0, 0.3, 0.6])
        assert.deepEqual((await judged({ sign: 1, swings, gaugeLateS })).told, [], `${swings} ${gaugeLateS}`);
    assert.deepEqual((await judged({ sign: -1, closed: false })).told, []);
  });
  test('that are right are evidence: cells that are short are corrected by them', async () => {
    const { offered, firm } = await judged({ sign: 1 });
    assert.ok(offered > 0 && firm.every(({ factor }) => factor > 1));
  });
});
