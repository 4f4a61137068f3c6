// An intake air sensor with an open wire. By the gas law the charge of 20 °C air is (273 − 40) / (273 + 20) = 0.80 of what a computer
// reckons that is told −40 °C: it gives 1 / 0.80 = 1.26 of the fuel, wherever the engine runs. SAE J1979 writes intake air as a byte less
// 40: −40 °C is its least.

import assert from 'node:assert/strict';
import { judgedOnStreet, streetDrive } from '../support/oneTableCar.js';

interface Car {
  readonly lambda: number;
  readonly airC?: (timeS: number) => number;
  readonly coolantC?: (timeS: number) => number;
}

const drive = ({ lambda, airC, coolantC = () => 88 }: Car): string =>
  streetDrive(`Coolant Temperature (°C),Target Lambda (λ),Lambda (λ)${airC ? ',Intake Air Temperature (°C)' : ''}`, (timeS, row) => [
    coolantC(timeS).toFixed(0),
    '1.000',
    (lambda * (1 + 0.004 * Math.sin(row * 2.3))).toFixed(3),
    ...(airC ? [airC(timeS).toFixed(0)] : []),
  ]);

async function judged(car: Car) {
  const { findings, cells, offered, held } = await judgedOnStreet(drive(car));
  const told = findings
    .filter(({ code, channel }) => code === 'channel-stuck' && channel === 'intake-air-temperature')
    .map(({ severity, message }) => `${severity}: ${message}`);
  return { told, offered, proven: cells.filter(({ proof }) => proof === 'firm').length, held };
}

suite('an intake air sensor with an open wire', () => {
  test('is told, and no cell is corrected by its log, whichever way it wants', async () => {
    // At the cell's own limit of 30 % nothing else would hold back a table 20 % too rich.
    for (const lambda of [0.8, 0.93, 1.08]) {
      const { told, offered, proven, held } = await judged({ lambda, airC: () => -40 });
      assert.equal(told.length, 1);
      assert.match(
        told[0],
        /^warning: Intake Air Temperature stands at -40 °C, where a sensor with an open wire ends, .* about 25 % too much fuel/,
      );
      assert.ok(proven > 2);
      assert.deepEqual([[...held], offered], [['air-dead'], 0]);
    }
  });
  test("is one where a logger's noise is on it, too", async () =>
    assert.equal((await judged({ lambda: 0.93, airC: (t) => -40 + Math.round(Math.abs(Math.sin(t))) })).told.length, 1));
  test('that breaks, or is mended, on the way is told from there, and corrects nothing', async () => {
    // No air cools by 65 °C within a tenth of a second.
    for (const airC of [(t: number) => (t < 100 ? 25 : -40), (t: number) => (t > 150 ? 25 : -40)]) {
      const { told, offered, held } = await judged({ lambda: 0.93, airC });
      assert.equal(told.length, 1);
      assert.match(told[0], /where a sensor with an open wire ends, for \d+ s at \d+\.\d s\./);
      assert.deepEqual([[...held], offered], [['air-dead'], 0]);
    }
  });
  test('is none where the air is only cold, comes off the end, or nothing near it was ever warm', async () => {
    for (const car of [
      { lambda: 0.93, airC: () => -25 },
      { lambda: 0.93, airC: (t: number) => -40 + t / 20 },
      { lambda: 0.93, airC: (t: number) => -41 + 3 * Math.sin(t / 30) },
      { lambda: 0.93 },
    ]) {
      const { told, offered } = await judged(car);
      assert.deepEqual(told, []);
      assert.ok(offered > 0);
    }
    assert.deepEqual((await judged({ lambda: 0.93, airC: () => -40, coolantC: (t) => -40 + t / 8 })).told, []);
  });
  test('is none where the engine itself comes out of such a frost, and one where it comes out of a garage', async () => {
    // An engine that has stood for a night has the air's temperature; the thermostat then holds about 88 °C.
    const from =
      (startC: number) =>
      (t: number): number =>
        Math.min(88, startC + t);
    assert.deepEqual((await judged({ lambda: 0.93, airC: () => -40, coolantC: from(-38) })).told, []);
    assert.equal((await judged({ lambda: 0.93, airC: () => -40, coolantC: from(8) })).told.length, 1);
  });
});
