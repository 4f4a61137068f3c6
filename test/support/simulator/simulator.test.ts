// The simulator itself, held against textbook numbers: what is judged by it can be no truer than it is.

import assert from 'node:assert/strict';
import { flowFunction } from './airPath.js';
import {
  CAR_KINDS,
  airMgOf,
  delayAtFlow,
  gridOf,
  makeCar,
  perfectTable,
  plantErrors,
  randomOf,
  read,
  shares,
  simulateDrive,
  toSessionCsv,
  toTableCsv,
  vehicleFolder,
  type Drive,
} from './index.js';
import { middleFlowGPerS, steady } from './truth.js';

const mean = (all: readonly number[]): number => all.reduce((a, b) => a + b, 0) / all.length;
const where = (drive: Drive, wanted: (i: number) => boolean): number[] => Array.from(drive.timeS.keys()).filter(wanted);
const close = (actual: number, expected: number, tolerance: number, what = ''): void =>
  assert.ok(Math.abs(actual - expected) <= tolerance, `${what} ${actual} is not ${expected} ± ${tolerance}`);

suite('simulator: parts', () => {
  test('air in a cylinder follows the ideal gas', () => {
    const car = makeCar('natural', 1, { displacementL: 4 * 0.4995, cylinders: 4 });
    // Ideal gas with R 287.055 J/(kg K), worked: VE 0.62 / 0.95 / 1.02 at 35 / 98 / 190 kPa and 40 / 35 / 45 °C.
    close(airMgOf(car, 0.62, 35, 40), 120.581, 0.01);
    close(airMgOf(car, 0.95, 98, 35), 525.724, 0.01);
    close(airMgOf(car, 1.02, 190, 45), 1059.967, 0.01);
  });

  test('the orifice chokes where the textbook says', () => {
    // Compressible flow, γ 1.4: critical ratio (2/(γ+1))^(γ/(γ−1)) = 0.5283, choked √γ (2/(γ+1))^((γ+1)/(2(γ−1))) = 0.6847.
    close((2 / 2.4) ** 3.5, 0.5283, 0.0001);
    close(flowFunction(0.3), Math.sqrt(1.4) * (2 / 2.4) ** 3, 0.0001);
    close(flowFunction(0.5284), 0.6847, 0.0002);
    assert.equal(flowFunction(1), 0);
  });

  test('a table reads bilinear and holds its edge', () => {
    const grid = gridOf([1000, 2000], [50, 100], (x, y) => x / 100 + y);
    assert.equal(read(grid, 1500, 75), 90); // a plane is read exactly
    assert.equal(read(grid, 9000, 10), 70);
    const parts = shares(grid, 1250, 60);
    close(
      parts.reduce((sum, part) => sum + part.share, 0),
      1,
      1e-12,
    );
    close(
      parts.reduce((sum, part) => sum + part.share * grid.values[part.cell], 0),
      read(grid, 1250, 60),
      1e-9,
    );
  });

  test('chance is even, normal and repeatable', () => {
    const random = randomOf(5),
      draws = Array.from({ length: 20000 }, () => random.normal());
    close(mean(draws), 0, 0.03);
    close(mean(draws.map((x) => x * x)), 1, 0.04);
    assert.deepEqual(
      Array.from(
        { length: 5 },
        (
          (r) => () =>
            r.next()
        )(randomOf(5).fork('a')),
      ),
      Array.from(
        { length: 5 },
        (
          (r) => () =>
            r.next()
        )(randomOf(5).fork('a')),
      ),
    );
  });

  test('planted errors stay within what a tuner could have left', () => {
    const car = makeCar('turbo', 3),
      perfect = perfectTable(car),
      planted = plantErrors(perfect, randomOf(3));
    const errors = Array.from(perfect.values, (value, i) => planted.values[i] / value - 1);
    assert.ok(Math.max(...errors.map(Math.abs)) <= 0.152);
    assert.ok(Math.max(...errors.map(Math.abs)) > 0.02);
  });
});

suite('simulator: drives', () => {
  const drive = simulateDrive({ car: 'natural', seed: 11, minutes: 5, driver: 'mixed' });
  const { truth, car } = drive;

  test('the same seed gives the same drive, another seed another', () => {
    const text = (seed: number): string => toSessionCsv(simulateDrive({ car: 'turbo', seed, minutes: 0.5 }));
    assert.equal(text(4), text(4));
    assert.notEqual(text(4), text(5));
  });

  test('idle draws a manifold pressure of 25 to 40 kPa', () => {
    // common practice, no source
    const idle = where(
      drive,
      (i) => truth.speedRpm[i] > 600 && truth.speedRpm[i] < 1000 && drive.channels.get('throttle')!.values[i] === 0 && !truth.cut[i],
    );
    assert.ok(idle.length > 50);
    const pressureKPa = mean(idle.map((i) => truth.pressureKPa[i]));
    assert.ok(pressureKPa > 24 && pressureKPa < 42, String(pressureKPa));
  });

  test('air flow is speed-density at the true filling', () => {
    // ṁ = VE p V n / (2 R T), Heywood 1988 eq. 2.27 rearranged; intake temperature as logged, so ±3 %.
    const full = where(drive, (i) => truth.pressureKPa[i] > 90 && truth.speedRpm[i] > 3000);
    assert.ok(full.length > 50);
    for (const i of full) {
      const kelvin = drive.channels.get('intake-air-temperature')!.values[i] + 273.15;
      const expected =
        ((car.filling(truth.speedRpm[i], truth.pressureKPa[i]) * truth.pressureKPa[i] * car.displacementL * truth.speedRpm[i]) /
          (120 * 287.055 * kelvin)) *
        1000;
      close(truth.airFlowGPerS[i], expected, 0.03 * expected, 'air flow');
    }
  });

  test('injector duty is pulse over cycle', () => {
    // one injection each 720°: PW × rpm / 1200
    for (const i of where(
      drive,
      (at) => truth.speedRpm[at] > 2500 && !truth.cut[at] && Math.abs(truth.torqueNm[at]) > 30 && steady(drive, at),
    )) {
      const expected = (drive.channels.get('injector-pulse-width')!.values[i] * truth.speedRpm[i]) / 1200;
      close(drive.channels.get('injector-duty')!.values[i], expected, 0.05 * expected + 0.1, 'duty');
    }
  });

  test('fuel cut ends at free air', () => {
    const cut = truth.events.filter((event) => event.kind === 'overrun' && event.toS - event.fromS > 3);
    assert.ok(cut.length > 0);
    for (const event of cut) {
      const late = where(drive, (i) => drive.timeS[i] > event.toS - 0.5 && drive.timeS[i] < event.toS);
      for (const i of late) assert.equal(drive.channels.get('lambda')!.values[i], car.lambdaSensor.range[1]);
    }
  });

  test('the delay has the size and the shape the literature gives', () => {
    // Order of magnitude: 0.2–0.6 s at idle, 0.05–0.15 s at high load, sensor before the catalyst.
    const idle = where(
      drive,
      (i) => truth.airFlowGPerS[i] < 5 && truth.speedRpm[i] > 600 && truth.speedRpm[i] < 1000 && !truth.cut[i] && drive.timeS[i] > 3,
    );
    const loaded = where(drive, (i) => truth.speedRpm[i] > 5000 && truth.pressureKPa[i] > 90);
    const idleS = mean(idle.map((i) => truth.delayS[i])),
      loadedS = mean(loaded.map((i) => truth.delayS[i]));
    assert.ok(idleS > 0.2 && idleS < 0.8, `idle ${idleS}`);
    assert.ok(loadedS > 0.05 && loadedS < 0.16, `loaded ${loadedS}`);
    // t = θ/720 · 120/n + V p / (R T ṁ) + lag (Guzzella and Onder), gas hot as it is there: within a quarter.
    for (const [rows, rpm] of [
      [idle, 830],
      [loaded, 5600],
    ] as const) {
      const flow = mean(rows.map((i) => truth.airFlowGPerS[i])) * 1.07e-3,
        kelvin = rpm < 1000 ? 740 : 1100;
      const speed = mean(rows.map((i) => truth.speedRpm[i]));
      const expected =
        ((car.injectionToExhaustDeg / 720) * 120) / speed +
        (car.exhaustVolumeL * car.barometerKPa * (rpm < 1000 ? 1 : 1.1)) / (288 * kelvin * flow) +
        car.lambdaSensor.lagS +
        car.lambdaSensor.secondLagS +
        car.lambdaSensor.latencyS;
      close(mean(rows.map((i) => truth.delayS[i])), expected, 0.25 * expected, 'delay');
    }
    const middle = delayAtFlow(drive, middleFlowGPerS(drive));
    close(
      middle.wholeS - middle.gasS,
      car.lambdaSensor.lagS + car.lambdaSensor.secondLagS + car.lambdaSensor.latencyS,
      0.012,
      'sensor part',
    );
  });

  test('with the perfect table the engine runs at its target, with a small one it runs lean by as much', () => {
    for (const kind of CAR_KINDS.filter((each) => each !== 'obd' && each !== 'closed-loop'))
      for (const size of [1, 0.92]) {
        const testCar = makeCar(kind, 21),
          perfect = perfectTable(testCar);
        const run = simulateDrive({
          car: testCar,
          seed: 22,
          minutes: 0.7,
          driver: 'dyno',
          fuelTable: { ...perfect, values: perfect.values.map((x) => x * size) },
        });
        const held = where(
          run,
          (i) =>
            steady(run, i) &&
            run.timeS[i] > 8 &&
            Number.isFinite(run.truth.mixtureLambda[i]) &&
            Math.abs(run.truth.pressureKPa[i] - run.truth.pressureKPa[i - 8]) < 1.5 &&
            run.truth.speedRpm[i] > 1000,
        );
        assert.ok(held.length > 80);
        const ratio = mean(
          held.map((i) => run.truth.mixtureLambda[i] / read(run.truth.targetTable, run.truth.speedRpm[i], run.truth.pressureKPa[i])),
        );
        close(ratio, 1 / size, 0.008, `${kind}: λ over target`);
      }
  });

  test('closed loop takes up the error in its trims', () => {
    const closedCar = makeCar('closed-loop', 5),
      perfect = perfectTable(closedCar);
    const run = simulateDrive({
      car: closedCar,
      seed: 6,
      minutes: 5,
      driver: 'street',
      fuelTable: { ...perfect, values: perfect.values.map((x) => x * 0.93) },
    });
    const held = where(
      run,
      (i) =>
        steady(run, i) &&
        run.timeS[i] > 120 &&
        run.channels.get('target-lambda')!.values[i] === 1 &&
        run.truth.speedRpm[i] > 1200 &&
        Math.abs(run.truth.pressureKPa[i] - run.truth.pressureKPa[i - 10]) < 2,
    );
    const trim = mean(
      held.map(
        (i) =>
          (1 + run.channels.get('short-term-fuel-trim')!.values[i] / 100) * (1 + run.channels.get('long-term-fuel-trim')!.values[i] / 100),
      ),
    );
    close(trim * mean(held.map((i) => run.truth.mixtureLambda[i])), 1 / 0.93, 0.012, 'trims times λ');
  });

  test('a cold start is cranked, rich and reads nothing at first', () => {
    const run = simulateDrive({ car: 'turbo', seed: 8, minutes: 3, start: 'cold', driver: 'street' });
    assert.deepEqual(
      run.truth.events.slice(0, 3).map((event) => event.kind),
      ['engine-off', 'cranking', 'warm-up'],
    );
    for (const i of where(run, (at) => run.timeS[at] < run.truth.sensorReadyAtS - 0.1))
      assert.equal(run.channels.get('lambda')!.values[i], run.car.lambdaSensor.range[1]);
    const early = where(
      run,
      (i) =>
        run.timeS[i] > run.truth.sensorReadyAtS &&
        run.timeS[i] < run.truth.sensorReadyAtS + 10 &&
        Number.isFinite(run.truth.mixtureLambda[i]) &&
        !run.truth.cut[i],
    );
    assert.ok(mean(early.map((i) => run.truth.mixtureLambda[i])) < 0.99);
  });

  test('a scan of the diagnostic port counts in whole bytes', () => {
    // SAE J1979 service 01 scalings
    const run = simulateDrive({ car: 'obd', seed: 9, minutes: 2 });
    assert.ok(run.rateHz > 3 && run.rateHz <= 4);
    for (const value of run.channels.get('short-term-fuel-trim')!.values) close(value * 1.28, Math.round(value * 1.28), 1e-4, 'trim');
    for (const value of run.channels.get('manifold-pressure')!.values) assert.equal(value, Math.round(value));
    for (const value of run.channels.get('engine-speed')!.values) assert.equal(value * 4, Math.round(value * 4));
    assert.ok(!run.channels.has('lambda'));
  });

  test('channels at their own rates leave blanks between', () => {
    const run = simulateDrive({ car: 'multi-rate', seed: 9, minutes: 0.5 });
    const filled = (name: string): number => run.channels.get(name)!.values.filter((x) => !Number.isNaN(x)).length / run.timeS.length;
    close(filled('engine-speed'), 1, 0);
    close(filled('coolant-temperature'), 1 / 50, 0.001);
    assert.match(toSessionCsv(run), /,,/);
  });

  test('texts carry every column and dialect', () => {
    const run = simulateDrive({ car: 'turbo', seed: 2, minutes: 0.1 });
    const text = toSessionCsv(run, {
      delimiter: ';',
      decimalComma: true,
      lambda: 'afr',
      pressure: 'psi gauge',
      lineEnd: '\r\n',
      notes: [['car', 'x']],
    });
    const [note, header, first] = text.split('\r\n');
    assert.equal(note, '# car: x');
    assert.equal(header.split(';').length, run.channels.size + 1);
    assert.match(header, /Air Fuel Ratio \(AFR\)/);
    assert.match(header, /Manifold Pressure \(psi gauge\)/);
    assert.match(first, /^0,000;/);
    const files = vehicleFolder([run]);
    assert.equal(JSON.parse(files['vehicle.json']).fuel.blend, 'E10');
    assert.match(
      toTableCsv(
        gridOf([0.8, 2], [0], (x) => x),
        { quantity: 'mass air flow (g/s)', columns: 'mass air flow signal (V)', digits: 2 },
      ),
      /# columns: mass air flow signal \(V\)\n {4},/,
    );
  });
});
