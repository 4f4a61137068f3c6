// Wheel power against figures from outside: the handbook's arithmetic, closed solutions of a car driven at constant power, and the engine
// simulator.

import assert from 'node:assert/strict';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import type { Session } from '../../server/src/formats/session/session.js';
import { analyse } from '../../server/src/signals/analyse.js';
import {
  airFlowGPerS,
  airPerCycleMg,
  fuelOfAir,
  fuelOfInjectorsGPerS,
  injectorSizeCcPerMin,
  volumetricEfficiency,
} from '../../server/src/signals/power/airMass.js';
import { airOf } from '../../server/src/signals/power/pullAir.js';
import { powerOf, type PullPower } from '../../server/src/signals/power/power.js';
import { speedMpsOf, torqueNm, wheelPowerW } from '../../server/src/signals/power/roadLoad.js';
import { slopesOf } from '../../server/src/signals/power/slope.js';
import { airDensityKgPerM3, dryAirKPa, iso1585, saeJ1349, saturationKPa } from '../../server/src/signals/power/weather.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';
import { makeCar, perfectTable, simulateDrive, targetTableOf, toSessionCsv } from '../support/simulator/index.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import type { Pull, Signals } from '../../server/src/signals/signals.js';
import { everyS, sessionOf } from './sessionOf.js';

const near = (actual: number, expected: number, within: number): void =>
  assert.ok(Math.abs(actual - expected) <= within, `${actual}, expected ${expected} ± ${within}`);

suite('power: formulas', () => {
  test('saturated vapour', () => {
    // CRC Handbook (IAPWS) table, kPa, as printed in an encyclopedia; Magnus is good to 0.3 %.
    for (const [c, kPa] of [
      [0, 0.6113],
      [10, 1.2281],
      [20, 2.3388],
      [25, 3.169],
      [30, 4.2455],
      [40, 7.3814],
      [50, 12.344],
    ])
      near(saturationKPa(c), kPa, 0.003 * kPa);
  });

  test('dry-air pressure and density', () => {
    // p − RH × e_s and two ideal gases; CIPM-2007 gives about 1.199 kg/m³ for the first density (from memory).
    near(dryAirKPa(101.325, 25, 50), 99.745, 0.005);
    near(dryAirKPa(98, 35, 60), 94.6323, 0.005);
    near(airDensityKgPerM3(101.325, 20, 50), 1.19886, 0.002);
    near(airDensityKgPerM3(98, 35, 60), 1.0935, 0.002);
    near(airDensityKgPerM3(101.325, 15, 0), 1.22499, 0.0002); // US Standard Atmosphere 1976: 1.2250
  });

  test('correction factors', () => {
    // SAE J1349 (1.18/0.18 form) and ISO 1585 by arithmetic on: reference, cool, warm, hot, high.
    for (const [dryKPa, c, sae, iso] of [
      [99, 25, 1, 1],
      [100.4742, 15, 0.96301, 0.9625],
      [97.4598, 30, 1.02866, 1.02922],
      [94.6323, 35, 1.075, 1.07675],
      [83.8002, 20, 1.20229, 1.20909],
    ]) {
      near(saeJ1349(dryKPa, c), sae, 0.0005);
      near(iso1585(dryKPa, c), iso, 0.0005);
    }
    near(200 * saeJ1349(94.6323, 35), 215, 0.1);
  });

  test('road load', () => {
    // Bosch Automotive Handbook's equation, worked by hand: 80.5556 + 8.3591 + 4.7399 kW.
    const load = { massKg: 1450, rotatingMassFactor: 1, dragAreaM2: 0.65, rollingResistance: 0.012, airDensityKgPerM3: 1.2, grade: 0 };
    const mps = 100 / 3.6;
    near(wheelPowerW(load, mps, 2) / 1000, 93.6545, 0.001);
    near(wheelPowerW({ ...load, rotatingMassFactor: 1.05 }, mps, 2) / 1000, 97.6823, 0.001);
    near(wheelPowerW(load, mps, 0) / 1000, 13.0989, 0.001);
    near(wheelPowerW({ ...load, grade: 0.03 }, mps, 0) / 1000, 24.9412, 0.001);
    near(torqueNm(93654.5, 4800) * 0.88 ** -1, 211.727, 0.01); // 0.88 of the driveline, an assumption of the example
    near((400 * 2 * Math.PI * 5000) / 60 / 1000, 209.4395, 0.0001);
    near(torqueNm(209439.5, 5000), 400, 0.001);
    near(speedMpsOf(4791.762, 5.6, 0.31) * 3.6, 100, 0.001);
  });

  test('air, fuel and injectors', () => {
    // Ideal gas and Heywood 1988 ch. 2, by arithmetic.
    near(airPerCycleMg(1, 101.325, 0.5, 25), 591.952, 0.01);
    near(airPerCycleMg(0.62, 35, 0.4995, 40), 120.581, 0.01);
    near(airPerCycleMg(1.02, 190, 0.4995, 45), 1059.967, 0.01);
    near(airFlowGPerS(0.95, 98, 1.998, 35, 6000), 105.1448, 0.001);
    near(airFlowGPerS(1.02, 190, 1.998, 45, 6500), 229.6595, 0.001);
    near(volumetricEfficiency(100, 101.325, 1.998, 25, 5500), 0.92237, 0.0001);
    near(volumetricEfficiency(100, 95, 1.998, 40, 5500), 1.03328, 0.0001);
    near(fuelOfAir(496.58, 0.85, 14.7), 39.7423, 0.001);
    near(fuelOfAir(496.58, 0.85, 9.8097), 59.5543, 0.001);
    near(fuelOfAir(113, 0.86, 14.7), 8.9385, 0.001);
    near(fuelOfInjectorsGPerS(650, 745, 1, 1, 1), 8.07083, 0.0001);
    near(fuelOfInjectorsGPerS(650, 745, 1, 1, 270 / 300) / 8.07083, 0.94868, 0.00001); // orifice law
    near(injectorSizeCcPerMin(220, 320, 6, 0.8, 745), 328.11, 0.01);
    const kW = 300 * 0.74569987,
      gPerKWh = (0.55 * 453.59237) / 0.74569987; // 300 hp at 0.55 lb/(hp h)
    near(injectorSizeCcPerMin(kW, gPerKWh, 4, 0.85, 745), 492.45, 0.01);
    near(injectorSizeCcPerMin(299.355, 330, 4, 0.85, 745), 650, 0.01);
  });

  test('slope of a line', () => {
    const timeS = Float64Array.from({ length: 41 }, (_, i) => i / 10);
    const found = slopesOf(
      timeS,
      timeS.map((t) => 27.6 + 2 * t),
      0,
    )!;
    for (const slope of found.slope) near(slope, 2, 1e-9);
    // A speed rounded to 1 km/h, read five times a second: one count in a central difference is 0.69 m/s², a fitted window is far better,
    // and says how much.
    const slow = Float64Array.from({ length: 41 }, (_, i) => i / 5);
    const rounded = slopesOf(
      slow,
      slow.map((t) => Math.round((27.6 + 2 * t) * 3.6) / 3.6),
      1 / 3.6,
    )!;
    for (const slope of rounded.slope) near(slope, 2, Math.max(0.15, 4 * rounded.errorPerS));
  });
});

const BODY = { massKg: 1300, dragAreaM2: 0.6, rollingResistance: 0.012, rotatingMassFactor: 1.06 };
const CAR: Vehicle = {
  ...EMPTY_VEHICLE,
  engine: { displacementL: 1.998, cylinders: 4, aspiration: 'natural' },
  fuel: { blend: 'E0' },
  body: BODY,
};

/**
 * A car at constant power: without drag v² = v₀² + 2 P t / m, with it integrated by RK4 on kinetic energy, which the code under test never
 * looks at.
 */
function drive({
  kW,
  fromMps,
  seconds,
  hz = 20,
  rpmPerMps = 130,
  quantumKmh = 0,
  more = {},
}: {
  kW: number;
  fromMps: number;
  seconds: number;
  hz?: number;
  rpmPerMps?: number;
  quantumKmh?: number;
  more?: Record<string, ArrayLike<number>>;
}): Session {
  const cruiseS = 6,
    timeS = everyS(1 / hz, cruiseS + seconds + 4);
  const density = (97.5 / (287.055 * 293.15)) * 1000;
  const heldW = (mps: number): number => 0.5 * density * BODY.dragAreaM2 * mps ** 3 + BODY.rollingResistance * BODY.massKg * 9.80665 * mps;
  const energyPerS = (joule: number): number => kW * 1000 - heldW(Math.sqrt((2 * joule) / (BODY.massKg * BODY.rotatingMassFactor)));
  let joule = 0.5 * BODY.massKg * BODY.rotatingMassFactor * fromMps ** 2;
  const at = new Map<number, number>();
  const step = 0.001;
  for (let k = 0; k <= Math.round(seconds / step); k++) {
    at.set(k, Math.sqrt((2 * joule) / (BODY.massKg * BODY.rotatingMassFactor)));
    const a = energyPerS(joule),
      b = energyPerS(joule + (step / 2) * a),
      c = energyPerS(joule + (step / 2) * b),
      d = energyPerS(joule + step * c);
    joule += (step / 6) * (a + 2 * b + 2 * c + d);
  }
  const top = at.get(Math.round(seconds / step))!;
  const speedMps = timeS.map((t) =>
    t < cruiseS ? fromMps : t < cruiseS + seconds ? at.get(Math.round((t - cruiseS) / step))! : top - 1.5 * (t - cruiseS - seconds),
  );
  const pulling = (i: number): boolean => timeS[i] >= cruiseS && timeS[i] < cruiseS + seconds;
  const columns = {
    'engine-speed': speedMps.map((mps) => mps * rpmPerMps),
    'manifold-pressure': timeS.map((_, i) => (pulling(i) ? 97 + Math.sin(i) : timeS[i] < cruiseS ? 40 + Math.sin(i) : 25)),
    throttle: timeS.map((_, i) => (pulling(i) ? 100 : timeS[i] < cruiseS ? 20 + Math.sin(i) : 0)),
    'coolant-temperature': timeS.map(() => 88),
    'vehicle-speed': speedMps.map((mps) => (quantumKmh > 0 ? Math.round((mps * 3.6) / quantumKmh) * quantumKmh : mps * 3.6)),
    'barometric-pressure': timeS.map(() => 97.5),
    'intake-air-temperature': timeS.map((_, i) => 20 + 0.01 * Math.sin(i)),
    ...Object.fromEntries(Object.entries(more).map(([name, values]) => [name, values])),
  };
  return sessionOf(timeS, columns);
}

const pullOf = (session: Session, vehicle: Vehicle = CAR): { signals: Signals; pull: Pull } => {
  const signals = analyse(session, vehicle);
  assert.equal(signals.pulls.length, 1);
  return { signals, pull: signals.pulls[0] };
};
const known = (power: ReturnType<typeof powerOf>): PullPower => {
  assert.ok(!('refused' in power), 'refused' in power ? power.refused : '');
  return power;
};
const without = (session: Session, ...quantities: string[]): Session => {
  const channels = session.channels
    .filter(({ quantity }) => !quantities.includes(quantity ?? ''))
    .map((channel, index) => ({ ...channel, index }));
  return { ...session, channels };
};

suite('power: pulls', () => {
  test('a car at constant power is told within 2 %, and within what is said', () => {
    for (const kW of [60, 120, 200]) {
      const { signals, pull } = pullOf(drive({ kW, fromMps: 18, seconds: 6 }));
      const power = known(powerOf(signals, pull));
      for (const point of power.points) near(point.powerKW, kW, 0.02 * kW);
      near(power.peak.powerKW, kW, power.plusMinusKW);
      assert.ok(power.plusMinusKW < 0.2 * kW, 'an interval that says something');
      assert.ok(
        power.peakTorque &&
          Math.abs((power.peakTorque.torqueNm * power.peakTorque.rpm * Math.PI) / 30000 / power.peakTorque.powerKW - 1) < 1e-9,
      );
    }
  });

  test('a road speed of whole km/h beside engine speed costs little; alone it costs more, and that is said', () => {
    const session = drive({ kW: 120, fromMps: 18, seconds: 6, quantumKmh: 1 });
    const both = pullOf(session);
    near(known(powerOf(both.signals, both.pull)).peak.powerKW, 120, 5);
    // A converter that slips 12 % less at the end than at the start.
    const rpm = session.channels.find(({ quantity }) => quantity === 'engine-speed')!.values;
    const slipping = drive({
      kW: 120,
      fromMps: 18,
      seconds: 6,
      quantumKmh: 1,
      more: { 'engine-speed': rpm.map((value, i) => value * (1.12 - 0.02 * Math.max(0, Math.min(6, i / 20 - 6)))) },
    });
    const alone = pullOf(slipping);
    const power = known(powerOf(alone.signals, alone.pull));
    near(power.peak.powerKW, 120, power.plusMinusKW);
    assert.match(power.speedFrom, /^road speed alone/);
  });

  test('engine speed and gear do where tyre and gearbox are stated', () => {
    // 130 rpm for each m/s: overall ratio 130 × 2π/60 × 0.31 = 4.2202.
    const overall = ((130 * 2 * Math.PI) / 60) * 0.31;
    const session = without(drive({ kW: 120, fromMps: 18, seconds: 6, more: { gear: new Float64Array(320).fill(3) } }), 'vehicle-speed');
    const stated = { ...CAR, body: { ...BODY, tyreRadiusM: 0.31, gearRatios: [3.2, 2, overall / 4], finalDrive: 4 } };
    const { signals, pull } = pullOf(session, stated);
    near(known(powerOf(signals, pull)).peak.powerKW, 120, 2.5);
    const bare = pullOf(session);
    assert.deepEqual(powerOf(bare.signals, bare.pull), {
      refused:
        'no road speed is logged, and body.gearRatios, body.finalDrive, body.tyreRadiusM in vehicle.json would be needed to tell it from engine speed and gear',
    });
    const gearless = pullOf(without(session, 'gear'), stated);
    assert.deepEqual(powerOf(gearless.signals, gearless.pull), { refused: 'neither road speed nor gear is logged' });
  });

  test('what is not stated is refused, never assumed in silence', () => {
    const { signals, pull } = pullOf(drive({ kW: 120, fromMps: 18, seconds: 6 }), { ...CAR, body: { dragAreaM2: 0.6 } });
    assert.deepEqual(powerOf(signals, pull), { refused: 'body.massKg, body.rollingResistance are not stated in vehicle.json' });
    const guessed = pullOf(drive({ kW: 120, fromMps: 18, seconds: 6 }), {
      ...CAR,
      body: { massKg: 1300, dragAreaM2: 0.6, rollingResistance: 0.012 },
    });
    assert.match(known(powerOf(guessed.signals, guessed.pull)).assumed.join('; '), /level road.*turning parts add 8 %.*no wind/);
  });

  test('a dynamometer is refused: by the notes, or by a speed that does not rise', () => {
    const session = drive({ kW: 120, fromMps: 18, seconds: 6 });
    const noted = pullOf({ ...session, notes: [{ line: 0, text: 'place: dyno cell 2' }] });
    assert.match((powerOf(noted.signals, noted.pull) as { refused: string }).refused, /dyno cell 2.*dynamometer/);
  });

  test('weather: corrected where it is known and the engine follows it', () => {
    const session = drive({ kW: 120, fromMps: 18, seconds: 6 });
    const moist = pullOf({
      ...session,
      metadata: new Map([
        ['air pressure', '980 mbar'],
        ['air temperature', '35 °C'],
        ['humidity', '60 %'],
      ]),
    });
    const { correction } = known(powerOf(moist.signals, moist.pull));
    assert.ok(!('refused' in correction));
    near(correction.saeJ1349, 1.075, 0.0005); // the "hot" case of the formula test
    near(correction.iso1585, 1.07675, 0.0005);
    assert.equal(correction.iso1585InRange, false);
    const turbo = pullOf(session, { ...CAR, engine: { ...CAR.engine, aspiration: 'turbocharged' } });
    assert.match((known(powerOf(turbo.signals, turbo.pull)).correction as { refused: string }).refused, /turbocharger/);
    const blown = pullOf(session, { ...CAR, engine: { ...CAR.engine, aspiration: 'supercharged' } });
    assert.match(
      (known(powerOf(blown.signals, blown.pull)).correction as { refused: string }).refused,
      /air temperature at the intake is neither logged nor given/,
    );
  });
});

suite('power: the simulated car', function () {
  this.timeout(120000);
  // The simulator moves the car by engine torque through a slipping clutch, 92 % of it to the wheels, on a road that rises and falls
  // outside of the pulls; it shares no equation with the code. Wheel power there: torque × engine speed × 0.92.
  test('every pull is told within its interval, the middle of them within 3 %', () => {
    const car = makeCar('supercharged', 3);
    const simulated = simulateDrive({
      car,
      fuelTable: perfectTable(car),
      targetTable: targetTableOf(car),
      seed: 8,
      minutes: 5,
      rateHz: 20,
      driver: 'track',
    });
    const { massKg, dragAreaM2, rolling, tyreRadiusM } = car.vehicle;
    const vehicle: Vehicle = { ...EMPTY_VEHICLE, body: { massKg, dragAreaM2, rollingResistance: rolling, tyreRadiusM } };
    const signals = analyse(readSession(textSource(toSessionCsv(simulated, {}))), vehicle);
    const off: number[] = [];
    let inside = 0;
    for (const pull of signals.pulls) {
      const power = powerOf(signals, pull);
      if ('refused' in power) continue;
      const middle = power.points[power.points.length >> 1];
      const trueKW = ((simulated.truth.torqueNm[middle.sample] * simulated.truth.speedRpm[middle.sample] * Math.PI) / 30000) * 0.92;
      off.push(middle.powerKW / trueKW - 1);
      if (Math.abs(middle.powerKW - trueKW) <= power.plusMinusKW) inside++;
    }
    assert.ok(off.length >= 8, `${off.length} of ${signals.pulls.length} pulls told`);
    assert.ok(inside >= 0.9 * off.length, `${inside} of ${off.length} within their interval`);
    near(off.sort((a, b) => a - b)[off.length >> 1], 0, 0.03);
  });
});

suite('air of a pull', () => {
  const table = readTable(
    '# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n , 1000, 7000\n 20, 90, 90\n 120, 90, 90\n',
  );

  test('meter beside speed-density: the difference is told, and its VE', () => {
    const plain = drive({ kW: 120, fromMps: 18, seconds: 6 });
    const column = (quantity: string): Float64Array => plain.channels.find((channel) => channel.quantity === quantity)!.values;
    const [rpm, kPa, c] = ['engine-speed', 'manifold-pressure', 'intake-air-temperature'].map(column);
    // 99 % where the table says 90 %: ρ V N / 2 with the density written out.
    const meter = rpm.map((value, i) => ((((0.99 * kPa[i] * 1000) / (287.055 * (c[i] + 273.15))) * 1.998e-3 * value) / 120) * 1000);
    const { signals, pull } = pullOf(drive({ kW: 120, fromMps: 18, seconds: 6, more: { 'mass-air-flow': meter } }));
    const air = airOf(signals, pull, table)!;
    near(air.meterAbovePercent!, 10, 0.1);
    near(air.meter!.ve!, 0.99, 0.005);
    near(air.speedDensity!.ve, 0.9, 1e-9);
    near(air.meter!.airGPerS / air.speedDensity!.airGPerS, 1.1, 0.005);
  });

  test('what is not known is said', () => {
    const { signals, pull } = pullOf(drive({ kW: 120, fromMps: 18, seconds: 6 }), { ...EMPTY_VEHICLE });
    const air = airOf(signals, pull, undefined)!;
    assert.equal(air.speedDensity, undefined);
    assert.match(air.unknown.join('; '), /engine.displacementL/);
  });
});
