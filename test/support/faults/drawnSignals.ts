// The engine part of a drawn drive: what each sensor would show along a road, drawn as curves with noise and lag. Shapes from how such
// traces look (common practice, no source); no air, fuel or gas equations, so the code under judgement meets a second kind of truth.

import type { QuantityId } from '../../../server/src/quantities/quantity.js';
import type { Random } from './random.js';
import type { Driveline, Road } from './drawnRoad.js';
import { STEP_S } from './drawnRoad.js';

export interface DrawnCar {
  readonly line: Driveline;
  readonly boostKPa: number;
  readonly blower: boolean;
  readonly barometerKPa: number;
  readonly start: 'off' | 'cold' | 'hot';
  readonly closedThrottle: number;
  readonly lambdaRange: readonly [number, number];
  readonly fullLoadLambda: number;
  readonly railFollowsManifold: boolean;
  readonly sensorLagS: number;
}

export const drawCar = (random: Random, line: Driveline): DrawnCar => {
  const boosted = random.chance(0.55);
  return {
    line,
    boostKPa: boosted ? random.between(35, 130) : 0,
    blower: random.chance(0.4),
    barometerKPa: random.between(84, 102.5),
    start: random.pick(['off', 'cold', 'hot']),
    closedThrottle: random.pick([0, 0, 0, 2.4, 12.5, 15.3]),
    lambdaRange: random.pick([
      [0.65, 1.6],
      [0.68, 1.36],
      [0.7, 1.3],
      [0.5, 1.5],
      [0.65, 2],
    ] as const),
    fullLoadLambda: boosted ? random.between(0.79, 0.84) : random.between(0.85, 0.89),
    railFollowsManifold: random.chance(0.6),
    sensorLagS: random.between(0.03, 0.09),
  };
};

/** Slow wandering around zero with the given spread and time constant. */
const wander = (random: Random, steps: number, spread: number, constantS: number): Float64Array => {
  const out = new Float64Array(steps),
    keep = Math.exp(-STEP_S / constantS),
    push = spread * Math.sqrt(1 - keep * keep);
  let now = spread * random.normal();
  for (let at = 0; at < steps; at++) out[at] = now = now * keep + push * random.normal();
  return out;
};

const lagged = (from: Float64Array, constantS: number): Float64Array => {
  const out = new Float64Array(from.length);
  let now = from[0];
  for (let at = 0; at < from.length; at++) out[at] = now += (from[at] - now) * Math.min(1, STEP_S / constantS);
  return out;
};

const clamp = (value: number, low: number, high: number): number => Math.min(high, Math.max(low, value));

/** The quantities asked for and those that tell what the engine really did, in canonical units, one value a step. */
export const drawSignals = (random: Random, car: DrawnCar, road: Road, wanted: ReadonlySet<QuantityId>): Map<QuantityId, Float64Array> => {
  const steps = road.rpm.length;
  const each = (of: (at: number) => number): Float64Array => {
    const out = new Float64Array(steps);
    for (let at = 0; at < steps; at++) out[at] = of(at);
    return out;
  };
  const running = (at: number): boolean => road.rpm[at] > 400;
  const opening = (at: number): number => Math.max(0, road.throttle[at] - car.closedThrottle) / (100 - car.closedThrottle);

  const idleMapKPa = random.between(29, 40),
    deepMapKPa = random.between(19, 27);
  const boostWish = each((at) => {
    const spool = car.blower ? 0.45 + 0.55 * (road.rpm[at] / car.line.limitRpm) : 1 / (1 + Math.exp(-(road.rpm[at] - 2600) / 380));
    return car.boostKPa * clamp((opening(at) - 0.4) / 0.5, 0, 1) * spool;
  });
  const boost = lagged(boostWish, car.blower ? 0.12 : 0.4);
  const air = lagged(
    each((at) => {
      if (!running(at)) return car.barometerKPa;
      const open = 100 * opening(at),
        krpm = road.rpm[at] / 1000;
      const base =
        open < 1 ? (krpm < 1.25 ? idleMapKPa : idleMapKPa + (deepMapKPa - idleMapKPa) * clamp((krpm - 1.25) / 0.8, 0, 1)) : deepMapKPa + 6;
      return base + (car.barometerKPa - base) * (1 - Math.exp(-open / (4 + 4.6 * krpm)));
    }),
    0.06,
  );
  const boostWander = wander(random, steps, 0.012, 0.25); // no wastegate holds still
  const mapTrue = each((at) => air[at] + boost[at] * (1 + boostWander[at]));
  const mapNoise = random.between(0.2, 0.7);
  const map = each((at) => mapTrue[at] + mapNoise * (running(at) ? 1 : 0.2) * random.normal());

  // coolant: cold starts warm up, warm ones swing with the thermostat
  const thermostatC = random.between(84, 97),
    ambientC = random.between(-8, 33);
  let coolantNow = car.start === 'cold' ? ambientC + random.between(0, 6) : car.start === 'off' ? random.between(55, 85) : thermostatC;
  const swing = random.between(0.5, 3),
    swingPhase = random.between(0, 6);
  const coolant = each((at) => {
    if (running(at)) coolantNow += ((thermostatC - coolantNow) * STEP_S) / 130;
    return coolantNow + (coolantNow > thermostatC - 6 ? swing * Math.sin(at * STEP_S * 0.05 + swingPhase) : 0);
  });
  const warm = (at: number): number => clamp((coolant[at] - 20) / 50, 0, 1);
  // intake air: soaks at standstill, cools with speed, warms under boost; healthy drives stay below the limit
  let intakeNow = ambientC + random.between(3, 10);
  const intake = each((at) => {
    const want = ambientC + (road.speedKmH[at] < 8 ? 16 * warm(at) : 6) + boost[at] * 0.06;
    intakeNow += ((Math.min(44, want) - intakeNow) * STEP_S) / (want > intakeNow ? 25 : 12);
    return intakeNow;
  });

  // target: stoichiometric at part load, richer with load, richer when cold
  const target = each((at) => {
    const load = mapTrue[at] / car.barometerKPa;
    const rich = clamp((load - 0.82) / 0.13, 0, 1);
    const boostRich = car.boostKPa > 0 ? clamp((mapTrue[at] - car.barometerKPa) / car.boostKPa, 0, 1) : 1;
    const hot = 1 - rich * (1 - (car.boostKPa > 0 ? 0.88 + (car.fullLoadLambda - 0.88) * boostRich : car.fullLoadLambda));
    return Math.round(1000 * Math.min(hot, 1 - 0.14 * (1 - warm(at)))) / 1000;
  });
  const error = wander(random, steps, random.between(0.003, 0.0065), 0.7);
  const closedLoop = (at: number): boolean => warm(at) >= 1 && target[at] > 0.985 && running(at) && !road.cut[at];
  const hunt = random.between(0.004, 0.018),
    huntHz = random.between(0.5, 1.4);
  let blip = 0,
    cutForS = 0,
    backForS = 99;
  const gas = each((at) => {
    const change = at > 4 ? road.throttle[at] - road.throttle[at - 4] : 0;
    if (change > 5) blip = Math.min(0.16, blip + 0.008); // wetting the port: lean for a moment
    if (change < -5) blip = Math.max(-0.07, blip - 0.003);
    blip *= Math.exp(-STEP_S / 0.05);
    if (road.cut[at]) {
      cutForS += STEP_S;
      backForS = 0;
    } else {
      cutForS = 0;
      backForS += STEP_S;
    }
    if (!running(at)) return 4;
    if (road.cut[at]) return 1 + Math.min(6, cutForS * 12);
    const refuelled = backForS < 0.5 ? -0.05 * (1 - backForS / 0.5) : 0;
    return target[at] * (1 + error[at] + blip + refuelled + (closedLoop(at) ? hunt * Math.sin(2 * Math.PI * huntHz * at * STEP_S) : 0));
  });
  // pipe: the reading is of gas burnt a moment ago, longer at low flow
  const farther = random.between(0.7, 1.4);
  const arrived = each((at) => {
    const flow = (road.rpm[at] / 1000) * (mapTrue[at] / 100);
    const delayS = running(at) ? clamp(farther * (0.05 + 0.085 / Math.max(0.15, flow)), 0.05, 0.5) : 0.3;
    return gas[Math.max(0, at - Math.round(delayS / STEP_S))];
  });
  // the cell answers to 1 − 1/λ (pumping current), so that free air does not swamp its lag
  const current = lagged(
    each((at) => 1 - 1 / arrived[at]),
    car.sensorLagS,
  );
  const lambdaNoise = random.between(0.0008, 0.003);
  const wakesAtS = car.start === 'hot' ? -1 : road.rpm.findIndex((rpm) => rpm > 400) * STEP_S + random.between(4, 14);
  const cold = random.pick([car.lambdaRange[1], 1]);
  const sensed = (noise: number) =>
    each((at) => {
      if (at * STEP_S < wakesAtS) return cold;
      return clamp(1 / Math.max(0.05, 1 - current[at]) + noise * random.normal(), car.lambdaRange[0], car.lambdaRange[1]);
    });
  const lambda = sensed(lambdaNoise);
  const lambda2 = (): Float64Array => {
    const bankShift = wander(random, steps, 0.004, 2);
    return each((at) =>
      clamp(
        lambda[at] + (at * STEP_S < wakesAtS || lambda[at] >= car.lambdaRange[1] ? 0 : bankShift[at] + lambdaNoise * random.normal()),
        ...car.lambdaRange,
      ),
    );
  };

  const trimOf = (): Float64Array => {
    const slow = wander(random, steps, 1.6, 5);
    return each((at) => (closedLoop(at) ? slow[at] + 60 * hunt * Math.sin(2 * Math.PI * huntHz * at * STEP_S + 1.5) : 0));
  };
  const learnt = (): Float64Array => {
    let now = random.between(-5, 5);
    return each(() => {
      if (random.chance(STEP_S / 30)) now = clamp(now + random.pick([-0.78125, 0.78125]), -6, 6);
      return now;
    });
  };

  const dutyTop = random.between(48, 74),
    deadMs = random.between(0.5, 1);
  const rawPulse = each((at) =>
    !running(at)
      ? road.rpm[at] > 100
        ? 60
        : 0
      : road.cut[at]
        ? 0
        : (mapTrue[at] / target[at]) * (1 + 0.08 * Math.sin(road.rpm[at] / 1500)),
  );
  let most = 1;
  for (let at = 0; at < steps; at++) if (running(at)) most = Math.max(most, rawPulse[at] * road.rpm[at]);
  most = Math.max(most, ((car.barometerKPa + car.boostKPa) / car.fullLoadLambda) * car.line.limitRpm * 0.9);
  const pulseWander = wander(random, steps, 0.008, 0.4);
  const pulse = each((at) => (rawPulse[at] === 0 ? 0 : (deadMs + rawPulse[at] * ((dutyTop * 1200) / most) * 0.9) * (1 + pulseWander[at])));
  const duty = each((at) => (pulse[at] * road.rpm[at]) / 1200);

  const railBase = random.pick([300, 350, 400]) + random.between(-6, 6),
    railNoise = random.between(0.6, 3);
  const rail = (): Float64Array => {
    const railWander = wander(random, steps, 1.2, 3);
    return each(
      (at) =>
        (road.rpm[at] < 100 && at * STEP_S > 2 && car.start === 'cold' ? railBase * 0.9 : railBase) +
        (car.railFollowsManifold ? mapTrue[at] - car.barometerKPa : 0) +
        railWander[at] +
        railNoise * random.normal(),
    );
  };

  const flowTop = random.between(110, 420);
  const airFlow = () =>
    each((at) =>
      Math.max(
        0,
        running(at)
          ? ((flowTop * road.rpm[at] * mapTrue[at]) / (car.line.limitRpm * (car.barometerKPa + car.boostKPa))) *
              (1 + 0.012 * random.normal())
          : 0,
      ),
    );
  const advance = (): Float64Array => {
    const advanceWander = wander(random, steps, 0.8, 0.5);
    return each((at) => {
      if (!running(at)) return 5;
      const load = mapTrue[at] / 100;
      return clamp(
        (road.rpm[at] < 1200 ? 12 : 20 + 3.5 * (road.rpm[at] / 1000)) - 16 * Math.max(0, load - 0.45) + advanceWander[at],
        -5,
        46,
      );
    });
  };
  // knock control of a healthy engine: now and then a degree, given back at once
  let retardNow = 0;
  const nervous = random.chance(0.4);
  const retard = () =>
    each((at) => {
      if (nervous && mapTrue[at] > 80 && random.chance(STEP_S / 12)) retardNow = random.between(0.4, 1.1);
      retardNow = Math.max(0, retardNow - STEP_S * 0.8);
      return retardNow;
    });
  const battery = (): Float64Array => {
    const charge = random.between(13.6, 14.4),
      chargeWander = wander(random, steps, 0.06, 1);
    return each(
      (at) =>
        (running(at) ? charge + chargeWander[at] : road.rpm[at] > 100 ? 10.3 : 12.4 + 0.1 * chargeWander[at]) + 0.015 * random.normal(),
    );
  };
  const oil = (): Float64Array => {
    let oilNow = coolant[0];
    return each((at) => {
      oilNow += (((coolant[at] > 70 ? thermostatC + 6 + boost[at] * 0.05 : coolant[at]) - oilNow) * STEP_S) / 160;
      return oilNow;
    });
  };
  const oilPressure = (): Float64Array => {
    const warmth = oil();
    return each((at) => (running(at) ? 110 + road.rpm[at] * 0.055 - (warmth[at] - 90) * 0.8 + 3 * random.normal() : 0));
  };

  const always: [QuantityId, Float64Array][] = [
    ['engine-speed', road.rpm],
    ['manifold-pressure', map],
    ['barometric-pressure', each(() => car.barometerKPa)],
    ['throttle', road.throttle],
    ['lambda', lambda],
    ['target-lambda', target],
    ['coolant-temperature', coolant],
    ['intake-air-temperature', intake],
    ['injector-duty', duty],
  ];
  const asked: Partial<Record<QuantityId, () => Float64Array>> = {
    pedal: () => each((at) => clamp(opening(at) * 100, 0, 100)),
    'lambda-2': lambda2,
    'short-term-fuel-trim': trimOf,
    'long-term-fuel-trim': learnt,
    'short-term-fuel-trim-2': trimOf,
    'oil-temperature': oil,
    'oil-pressure': oilPressure,
    'fuel-pressure': rail,
    'ignition-advance': advance,
    'knock-retard': retard,
    'injector-pulse-width': () => pulse,
    'mass-air-flow': airFlow,
    'vehicle-speed': () => road.speedKmH,
    'battery-voltage': battery,
    gear: () => road.gear,
    'fuel-cut': () => each((at) => road.cut[at]),
    'engine-load': () => each((at) => (running(at) ? clamp(100 * (mapTrue[at] / car.barometerKPa) * 0.93, 0, 250) : 0)),
  };
  return new Map([
    ...always,
    ...[...wanted].filter((quantity) => asked[quantity]).map((quantity): [QuantityId, Float64Array] => [quantity, asked[quantity]!()]),
  ]);
};
