// What leaves an engine, against balances worked beside the code: of energy in a cylinder that fills, of mass in one that burns; and the
// delay that comes of it on an engine fuelled by its throttle, stepped in small pieces.

import assert from 'node:assert/strict';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { exhaustFlow, idealFilling, leavesOf } from '../../server/src/fueling/delay/exhaustFlow.js';
import { weighSession } from '../../server/src/fueling/weigh.js';
import { analyse } from '../../server/src/signals/analyse.js';
import type { Signals } from '../../server/src/signals/signals.js';
import { delayAlongS } from '../../server/src/signals/mixture/delay.js';
import { normalFrom, randomFrom, sessionOf } from './tinyEngine.js';

const size = 500;
const timeS = Float64Array.from({ length: size }, (_, at) => at / 25);
const filled = (value: number): Float64Array => new Float64Array(size).fill(value);
const car: Vehicle = {
  ...EMPTY_VEHICLE,
  engine: { displacementL: 2, cylinders: 4 },
  fuel: { blend: 'E10' },
  injectors: { flowCcPerMin: 600, deadTimeMs: 0.9 },
};
const still = (more: Readonly<Record<string, number>>): Signals =>
  analyse(
    sessionOf(
      timeS,
      Object.entries({ 'engine-speed': 3000, ...more }).map(([quantity, value]) => ({
        quantity: quantity as 'throttle',
        values: filled(value),
      })),
    ),
    car,
  );
const table = (quantity: string, rows: string, low: number, high: number, value: number): ReturnType<typeof readTable> =>
  readTable(
    `# quantity: ${quantity}\n# columns: engine speed (rpm)\n# rows: ${rows}\n,1000,6000\n${low},${value},${value}\n${high},${value},${value}\n`,
  );

suite('exhaust flow', () => {
  test('an ideal cycle takes in what the balance of energy leaves room for', () => {
    // Residual gas at the exhaust's pressure in the clearance volume, then the intake's pressure pushes charge in until the volume is r
    // times as large; no heat is lost.
    const r = 10,
      heats = 1.3,
      gas = 287,
      chargeK = 300,
      clearance = 5e-5,
      exhaust = 100;
    for (const manifold of [20, 30, 45, 100]) {
      const displaced = clearance * (r - 1),
        taken = (idealFilling(manifold, exhaust) * manifold * 1e3 * displaced) / (gas * chargeK),
        specific = gas / (heats - 1);
      const before = specific * ((exhaust * 1e3 * clearance) / gas) + taken * (specific + gas) * chargeK;
      const after = specific * ((manifold * 1e3 * clearance * r) / gas) + manifold * 1e3 * displaced;
      assert.ok(Math.abs(after / before - 1) < 1e-9, `${manifold} kPa: ${before} J before, ${after} J after`);
    }
  });

  test('fuel is given for the air that burns it: 30 mg a cylinder and cycle at 3000 rpm, lambda 0.9, E10', () => {
    // E10 needs 14.0965 of its mass in air: 30 mg × 14.0965 × 0.9 × 4 cylinders × 25 cycles a second, and the fuel goes out too.
    const airGPerS = 0.03 * 14.0965 * 0.9 * 4 * 25,
      fuelGPerS = 0.03 * 4 * 25;
    const known = { fuelled: filled(30), target: filled(0.9), rpm: filled(3000), manifoldKPa: undefined };
    const [gPerS] = exhaustFlow(still({ throttle: 30 }), table('fuel mass (mg)', 'throttle (%)', 0, 100, 30), known, []);
    assert.ok(Math.abs(gPerS / (airGPerS + fuelGPerS) - 1) < 0.02, `${gPerS}`);
    // 600 cc/min of 749.9 kg/m³ are 7.499 mg a millisecond: 4 ms behind the dead time pass as much as 29.996 mg.
    const [byPulse] = exhaustFlow(
      still({ throttle: 30 }),
      table('injector pulse width (ms)', 'throttle (%)', 0, 100, 4.9),
      { ...known, fuelled: filled(4) },
      [],
    );
    assert.ok(Math.abs(byPulse / gPerS - 29.996 / 30) < 0.002, `${byPulse}`);
  });

  test('a filling asked of the throttle is of the air around the car, any other pressure it has not', () => {
    // Ideal gas: 60 % of 2 L at 101.325 kPa and 40 °C, 25 times a second.
    const airGPerS = ((0.6 * 101.325 * 2) / (287.055 * 313.15)) * 1000 * 25;
    const signals = still({ throttle: 30 }),
      known = { fuelled: filled(60), target: filled(1), rpm: filled(3000), manifoldKPa: undefined };
    const [gPerS] = exhaustFlow(signals, table('volumetric efficiency (%)', 'throttle (%)', 0, 100, 60), known, []);
    assert.ok(Math.abs(gPerS / (airGPerS * 1.07) - signals.barometer.kPa / 101.325) < 0.01, `${gPerS}`);
  });

  test('during a cut the air alone leaves; below the lowest row as much less as the residual gas makes', () => {
    const signals = still({ 'manifold-pressure': 20 }),
      ve = table('volumetric efficiency (%)', 'manifold pressure (kPa)', 30, 100, 50),
      metered = filled(10.7);
    const cut = new Uint8Array(size).fill(1, 100);
    const leaves = leavesOf(signals, ve, metered, cut, filled(40));
    assert.equal(leaves[0], 10.7);
    assert.ok(Math.abs(leaves[200] - 10) < 1e-9);
    const below = leavesOf(signals, ve, metered, undefined, filled(20))[0] / 10.7;
    // 50 kPa per clearance volume less of residual gas: worked by hand for 101.325 kPa, 10 : 1 and 1.3.
    assert.ok(Math.abs(below - (0.3 / 1.3 + (10 - 101.325 / 20) / 11.7) / (0.3 / 1.3 + (10 - 101.325 / 30) / 11.7)) < 0.01, `${below}`);
    assert.equal(
      leavesOf(signals, table('fuel mass (mg)', 'manifold pressure (kPa)', 30, 100, 20), metered, undefined, filled(20))[0],
      10.7,
    );
  });

  for (const seed of [1, 2, 3]) {
    test(`the delay of an engine that is fuelled by its throttle, no pressure logged: ${seed}`, () => {
      const { signals, fuel, flowGPerS, delayS } = throttled(seed);
      const { transportDelay } = weighSession(signals, fuel).weight;
      assert.equal(transportDelay.from, 'log');
      assert.ok(
        Math.abs(delayAlongS(transportDelay.byFlow, flowGPerS) - delayS) < 0.025,
        `${delayAlongS(transportDelay.byFlow, flowGPerS)} for ${delayS} at ${flowGPerS} g/s`,
      );
    });
  }
});

/**
 * Air flows in past the throttle as it is open, the manifold fills, the cylinders draw a share of what it holds each cycle, and the mixture
 * burnt travels to a slow sensor.
 */
const throttled = (seed: number): { signals: Signals; fuel: ReturnType<typeof readTable>; flowGPerS: number; delayS: number } => {
  const random = randomFrom(seed),
    normal = normalFrom(random),
    stepS = 0.002,
    held = 1.5 + random(),
    gasG = 0.4 + 0.5 * random(),
    lagS = 0.04 + 0.04 * random(),
    cycles = 0.9;
  const airMg = (throttle: number, rpm: number): number => 60 + 400 * (1 - Math.exp((-throttle * 45) / rpm));
  const speeds = Array.from({ length: 12 }, (_, i) => 800 + 450 * i),
    openings = [0, 4, 8, 13, 19, 26, 35, 46, 60, 78, 100];
  const wrong = (throttle: number, rpm: number): number =>
    1 + 0.05 * Math.sin(rpm / 700 + seed) * Math.cos(throttle / 14) + 0.03 * Math.sin(throttle / 7 + seed);
  const values = openings.map((throttle) => speeds.map((rpm) => (airMg(throttle, rpm) / 14.1) * wrong(throttle, rpm)));
  const place = (axis: readonly number[], value: number): [number, number] => {
    let i = 0;
    while (i < axis.length - 2 && axis[i + 1] < value) i++;
    return [i, Math.max(0, Math.min(1, (value - axis[i]) / (axis[i + 1] - axis[i])))];
  };
  const asked = (throttle: number, rpm: number): number => {
    const [i, u] = place(speeds, rpm),
      [j, v] = place(openings, throttle);
    return (values[j][i] * (1 - u) + values[j][i + 1] * u) * (1 - v) + (values[j + 1][i] * (1 - u) + values[j + 1][i + 1] * u) * v;
  };
  const columns: Record<string, number[]> = {
    time: [],
    'engine-speed': [],
    throttle: [],
    lambda: [],
    'target-lambda': [],
    'injector-pulse-width': [],
    'coolant-temperature': [],
  };
  const arriving: { readonly atS: number; readonly phi: number }[] = [],
    flows: number[] = [],
    delays: number[] = [];
  let [rpm, throttle, rpmGoal, goal, untilS, drawn, arrived, phi, seen, logS] = [2000, 10, 2000, 10, 0, 150, 0, 1, 1, 0];
  for (let now = 0; now < 420; now += stepS) {
    if (now > untilS)
      [rpmGoal, goal, untilS] = [1300 + 3200 * random(), random() < 0.2 ? 100 : 3 + 32 * random(), now + 1.5 + 5 * random()];
    rpm += Math.max(-500 * stepS, Math.min(500 * stepS, rpmGoal - rpm));
    throttle += Math.max(-150 * stepS, Math.min(150 * stepS, goal - throttle)) + 0.6 * normal() * Math.sqrt(stepS);
    throttle = Math.max(2, Math.min(100, throttle));
    drawn += ((airMg(throttle, rpm) - drawn) * stepS * rpm) / 120 / held;
    const fuelMg = asked(throttle, rpm),
      flow = (((drawn + fuelMg) / 1000) * 4 * rpm) / 120,
      lateS = (cycles * 120) / rpm + gasG / flow;
    arriving.push({ atS: now + lateS, phi: (fuelMg * 14.1) / drawn });
    while (arrived < arriving.length && arriving[arrived].atS <= now) phi = arriving[arrived++].phi;
    seen += ((phi - seen) * stepS) / lagS;
    if (now < logS) continue;
    logS += 0.04;
    flows.push(((drawn / 1000) * 4 * rpm) / 120);
    delays.push(lateS + lagS);
    for (const [name, value] of Object.entries({
      time: now,
      'engine-speed': Math.round(rpm),
      throttle: Math.round(throttle * 10) / 10,
      lambda: 1 / seen + 0.003 * normal(),
      'target-lambda': 1,
      'injector-pulse-width': 0.9 + 0.13 * fuelMg,
      'coolant-temperature': 88,
    }))
      columns[name].push(value);
  }
  const { time, ...channels } = columns,
    session = sessionOf(
      time,
      Object.entries(channels).map(([quantity, all]) => ({ quantity: quantity as 'throttle', values: Float64Array.from(all) })),
    );
  const flowGPerS = flows.slice().sort((a, b) => a - b)[flows.length >> 1],
    near = delays.filter((_, at) => Math.abs(flows[at] / flowGPerS - 1) < 0.1).sort((a, b) => a - b);
  const text = `# quantity: fuel mass (mg)\n# columns: engine speed (rpm)\n# rows: throttle (%)\n,${speeds.join(',')}\n${openings.map((each, j) => `${each},${values[j].map((value) => value.toFixed(4)).join(',')}`).join('\n')}\n`;
  return { signals: analyse(session, car), fuel: readTable(text), flowGPerS, delayS: near[near.length >> 1] };
};
