// The evidence against simulated drives with known truth, on a few fixed seeds: limits that a break would cross.
// The bars themselves are held by the benchmark (test/bench/evidence.ts), over many drives that differ every run.

import assert from 'node:assert/strict';
import { blindTrial, summaryOf, tableOf, type Trial } from '../support/accuracy/blindDrive.js';
import { weighFolder } from '../support/accuracy/weighFolder.js';
import { makeCar, simulateDrive, vehicleFolder, type Grid } from '../support/simulator/index.js';

suite('blind accuracy', function () {
  this.timeout(300000);
  const trials: Trial[] = [];
  suiteSetup(() => {
    for (const [kind, seed] of [
      ['natural', 101],
      ['supercharged', 102],
      ['closed-loop', 103],
      ['multi-rate', 104],
      ['air-flow', 105],
      ['e85', 106],
    ] as const) {
      trials.push(blindTrial(kind, seed, { minutes: 6 }));
    }
  });

  test('factors are near the truth, and nearer than an average', () => {
    const { rms, ratio } = summaryOf(trials);
    assert.ok(rms <= 0.01, `${rms}\n${tableOf(trials)}`);
    assert.ok(ratio <= 0.4, `${ratio}\n${tableOf(trials)}`);
  });

  test('intervals hold the truth, firm cells are firm', () => {
    const { coverage, firmWrong, worstFirm, wellVisitedFirm } = summaryOf(trials);
    assert.ok(coverage >= 0.9, `${coverage}\n${tableOf(trials)}`);
    assert.ok(firmWrong === 0 && worstFirm <= 0.03, `${worstFirm}\n${tableOf(trials)}`);
    assert.ok(wellVisitedFirm >= 0.85, `${wellVisitedFirm}\n${tableOf(trials)}`);
  });

  test('the delay is near the truth at middle flow', () => {
    const { delayErrorS } = summaryOf(trials);
    assert.ok(delayErrorS <= 0.025, `${delayErrorS}\n${tableOf(trials)}`);
  });

  test('corrected and driven again, three times, the table is right where it is proven', () => {
    const car = makeCar('supercharged', 110);
    let table: Grid | undefined;
    const errors: number[] = [];
    for (let round = 0; round < 3; round++) {
      const drive = simulateDrive({
        car,
        seed: 300 + round,
        minutes: 6,
        driver: round === 1 ? 'track' : 'mixed',
        ...(table ? { fuelTable: table } : {}),
      });
      const { cells } = weighFolder(vehicleFolder([drive]));
      const firm = cells.filter((cell) => cell.proof === 'firm'),
        values = drive.truth.fuelTable.values.slice(),
        width = car.columns.length;
      for (const cell of firm) values[cell.row * width + cell.column] = Number((cell.value * cell.factor!).toFixed(1));
      table = { ...drive.truth.fuelTable, values };
      assert.ok(firm.length >= 8, `${firm.length} firm cells are too few to judge`);
      errors.push(
        Math.sqrt(
          firm.reduce(
            (sum, cell) =>
              sum + (values[cell.row * width + cell.column] / drive.truth.perfectTable.values[cell.row * width + cell.column] - 1) ** 2,
            0,
          ) / firm.length,
        ),
      );
    }
    assert.ok(errors[2] <= 0.01, errors.map((x) => x.toFixed(4)).join(' '));
  });
});
