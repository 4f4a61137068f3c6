// A closed loop and a gauge beside it. What the computer's own sensor sees is λ 1, give or take its swing (that is what closing a loop
// means); what the gauge shows of that is laid down here.

import assert from 'node:assert/strict';
import { judgedOnStreet, streetDrive } from '../support/oneTableCar.js';

/** `gauge` is what it shows over the truth, `fuel` what the table gives over what is needed: the trims take that back. */
interface Car {
  readonly gauge: number;
  readonly fuel?: number;
  readonly trim?: 'alive' | 'still' | 'none' | 'end';
  readonly target?: number;
}

const drive = ({ gauge, fuel = 1, trim = 'alive', target = 1 }: Car): string => {
  const trims = trim === 'none' ? '' : ',Short Term Fuel Trim (%),Long Term Fuel Trim (%)',
    open = trim === 'still' || trim === 'none';
  return streetDrive(`Coolant Temperature (°C),Target Lambda (λ),Lambda (λ)${trims}`, (timeS, row) => {
    const swing = 1.2 * Math.sin(timeS * 4.4),
      long = trim === 'end' ? -20 : 100 * (1 / fuel - 1),
      truth = open ? 1 / fuel : target * (1 - (swing / 100) * 0.5);
    return [
      '88',
      target.toFixed(3),
      (truth * gauge * (1 + 0.004 * Math.sin(row * 2.3))).toFixed(3),
      ...(trim === 'none' ? [] : [trim === 'still' ? '0.0' : swing.toFixed(1), (trim === 'still' ? 0 : long).toFixed(1)]),
    ];
  });
};

async function judged(car: Car) {
  const { findings, cells, offered, held } = await judgedOnStreet(drive(car));
  const told = findings.filter(({ data }) => data?.kind === 'loop-apart').map(({ severity, message }) => `${severity}: ${message}`);
  return { told, offered, rich: cells.filter(({ proof, factorHigh }) => proof === 'firm' && factorHigh < 1).length, held };
}

suite("a gauge beside the computer's closed loop", () => {
  test('that reads rich of it is told, and no fuel is taken out by it', async () => {
    const { told, offered, rich, held } = await judged({ gauge: 0.95 });
    assert.ok(rich > 2);
    assert.equal(told.length, 1);
    assert.match(told[0], /^warning: Lambda reads [45]\.\d % rich of λ 1 .*no fuel is taken out by this log/);
    assert.deepEqual([[...held], offered], [['loop-apart'], 0]);
  });
  test('that reads lean of it is told too', async () =>
    assert.match((await judged({ gauge: 1.06 })).told[0] ?? '', /^warning: Lambda reads [56]\.\d % lean of λ 1/));
  test('agrees where the trims take back what the table gives too much: that comes out', async () => {
    const { told, offered, rich } = await judged({ gauge: 1, fuel: 1.06 });
    assert.deepEqual(told, []);
    assert.ok(rich > 2 && offered > 0);
  });
  test('is the only witness where the loop is open, at its end, not logged, or asks for another mixture', async () => {
    for (const car of [
      { gauge: 1, fuel: 1.06, trim: 'still' },
      { gauge: 1, fuel: 1.06, trim: 'none' },
      { gauge: 0.95, trim: 'end' },
      { gauge: 1, target: 0.95 },
    ] as const)
      assert.deepEqual((await judged(car)).told, [], JSON.stringify(car));
  });
});
