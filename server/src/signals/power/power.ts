// Wheel power and torque of a pull from what the car did on the road, with how sure it is, and refused where it cannot be known.

import type { Pull, Signals } from '../signals.js';
import { median } from '../columns/statistics.js';
import { powersW, estimatedMassFactor, torqueNm, wheelPowerW, GRAVITY_M_PER_S2, type RoadLoad } from './roadLoad.js';
import { roadSpeedOf, type Refused, type RoadSpeed } from './roadSpeed.js';
import { slopesOf, smoothed } from './slope.js';
import { airDensityKgPerM3, dryAirKPa, iso1585, ISO_1585_RANGE, noted, saeJ1349, weatherOf, type Weather } from './weather.js';

export interface PowerPoint {
  readonly sample: number;
  readonly speedKmh: number;
  readonly accelerationMps2: number;
  readonly powerKW: number;
  /** NaN without engine speed. */
  readonly rpm: number;
  /** Wheel power over engine speed, N m; NaN without engine speed. */
  readonly torqueNm: number;
}

export interface PullPower {
  /** Along the pull, by time. */
  readonly points: readonly PowerPoint[];
  readonly peak: PowerPoint;
  /** Undefined without engine speed. */
  readonly peakTorque: PowerPoint | undefined;
  /** Half of the 95 % interval of the peak, kW, with the parts that make it. */
  readonly plusMinusKW: number;
  readonly parts: readonly (readonly [what: string, plusMinusKW: number])[];
  readonly correction:
    { readonly saeJ1349: number; readonly iso1585: number; readonly iso1585InRange: boolean; readonly weather: string } | Refused;
  readonly windowS: number;
  readonly speedFrom: string;
  /** What was taken for granted, in plain words. */
  readonly assumed: readonly string[];
}

// Half widths of 95 %, as shares unless said. Common practice, no source.
const MASS = 0.03,
  DRAG = 0.1,
  ROLLING = 0.25,
  MASS_FACTOR_STATED = 0.02,
  MASS_FACTOR_ESTIMATED = 0.05,
  MASS_FACTOR_GUESSED = 0.1;
const GRADE_UNKNOWN = 0.01,
  GRADE_NOTED = 0.003,
  WIND_MPS = 2,
  AIR_KNOWN = 0.02,
  AIR_UNKNOWN = 0.08;
/** Where no gear is known: between third and top of a passenger car (common practice, no source). */
const GUESSED_MASS_FACTOR = 1.08;
/** Below this the road speed is held, not driven up. */
const LEAST_MPS2 = 0.15;
/** Above this no tyre holds on the road. */
const MOST_MPS2 = 20;
const ROLLERS = /\b(dyno|dynos|dynamometer|rollers?|rolling road|test bench|hub bench)\b/i;
const STANDARD_KPA = 101.325,
  STANDARD_C = 15;

const made = new WeakMap<Pull, { readonly of: Signals; readonly power: PullPower | Refused }>();

/** Worked out once for a pull. `refused` says what is missing. */
export const powerOf = (signals: Signals, pull: Pull): PullPower | Refused => {
  let known = made.get(pull);
  if (known?.of !== signals) made.set(pull, (known = { of: signals, power: work(signals, pull) }));
  return known.power;
};

const work = (signals: Signals, pull: Pull): PullPower | Refused => {
  const { massKg, dragAreaM2, rollingResistance } = signals.vehicle.body;
  const missing = [
    massKg === undefined ? 'body.massKg' : '',
    dragAreaM2 === undefined ? 'body.dragAreaM2' : '',
    rollingResistance === undefined ? 'body.rollingResistance' : '',
  ].filter(Boolean);
  if (massKg === undefined || dragAreaM2 === undefined || rollingResistance === undefined) {
    return { refused: `${missing.join(', ')} ${missing.length === 1 ? 'is' : 'are'} not stated in vehicle.json` };
  }
  const bench = rollersNoted(signals);
  if (bench !== undefined)
    return { refused: `the session's notes say "${bench}": on a dynamometer the road load of the car does not hold` };
  const speed = roadSpeedOf(signals, pull);
  if ('refused' in speed) return speed;
  const slopes = slopesOf(speed.timeS, speed.speedMps, speed.quantumMps);
  if (!slopes) return { refused: 'too short, or too few speed readings, to tell the acceleration' };
  const pullMps2 = median(slopes.slope);
  if (!(pullMps2 > LEAST_MPS2)) return { refused: 'the road speed hardly rises: the car was held by a brake, a hill or a dynamometer' };
  if (pullMps2 > MOST_MPS2) return { refused: `the road speed rises by ${pullMps2.toFixed(0)} m/s²: no car on the road does that` };

  const assumed: string[] = [];
  const weather = weatherOf(signals, intakeC(signals, pull));
  const { density, known: airKnown } = densityOf(weather, assumed);
  const gradePercent = noted(signals.session.metadata, ['grade', 'gradient', 'slope'], 'ratio');
  if (gradePercent === undefined)
    assumed.push(
      `a level road; each 1 % of climb would add ${((massKg * GRAVITY_M_PER_S2 * 0.01 * median(slopes.value)) / 1000).toFixed(1)} kW in mid-pull`,
    );
  const { factor, plusMinus: factorPlusMinus } = massFactor(signals, speed, assumed);
  assumed.push('no wind');
  const load: RoadLoad = {
    massKg,
    rotatingMassFactor: factor,
    dragAreaM2,
    rollingResistance,
    airDensityKgPerM3: density,
    grade: (gradePercent ?? 0) / 100,
  };

  const timesS = Float64Array.from(slopes.at, (k) => speed.timeS[k]);
  const powers = smoothed(
    timesS,
    Float64Array.from(slopes.slope, (slope, k) => wheelPowerW(load, slopes.value[k], slope) / 1000),
    slopes.windowS,
  );
  const rpm = signals.held('engine-speed');
  const points = Array.from(slopes.at, (k, i): PowerPoint => {
    const sample = speed.sample[k],
      turns = rpm ? rpm[sample] : NaN;
    return {
      sample,
      speedKmh: slopes.value[i] * 3.6,
      accelerationMps2: slopes.slope[i],
      powerKW: powers[i],
      rpm: turns,
      torqueNm: turns > 0 ? torqueNm(powers[i] * 1000, turns) : NaN,
    };
  });
  const peak = greatest(points, ({ powerKW }) => powerKW)!;
  const peakTorque = greatest(points, (point) => point.torqueNm);

  const mps = peak.speedKmh / 3.6;
  const { inertiaW, dragW, rollingW, gradeW } = powersW(load, mps, peak.accelerationMps2);
  const parts: [string, number][] = [
    ['mass as stated ±3 %', (inertiaW + rollingW + gradeW) * MASS],
    [`turning parts, factor ${factor.toFixed(2)} ±${factorPlusMinus.toFixed(2)}`, (inertiaW / factor) * factorPlusMinus],
    ['drag ±10 %', dragW * DRAG],
    ['rolling resistance ±25 %', rollingW * ROLLING],
    [
      gradePercent === undefined ? 'the road up or down by 1 %' : 'the noted grade ±0.3 %',
      massKg * GRAVITY_M_PER_S2 * mps * (gradePercent === undefined ? GRADE_UNKNOWN : GRADE_NOTED),
    ],
    ['wind of 2 m/s', (dragW * 2 * WIND_MPS) / Math.max(mps, WIND_MPS)],
    [airKnown ? 'air density ±2 %' : 'air density ±8 %, weather not known', dragW * (airKnown ? AIR_KNOWN : AIR_UNKNOWN)],
    [`speed ±${(speed.scaleShare * 100).toFixed(1)} %`, (2 * inertiaW + 3 * dragW + rollingW + gradeW) * speed.scaleShare],
    ['noise of the speed', 2 * slopes.errorPerS * massKg * factor * mps],
  ].map(([what, watts]): [string, number] => [what as string, Math.abs(watts as number) / 1000]);
  return {
    points,
    peak,
    peakTorque,
    parts,
    plusMinusKW: Math.hypot(...parts.map(([, kW]) => kW)),
    correction: correctionOf(signals, pull, weather),
    windowS: slopes.windowS,
    speedFrom: speed.from,
    assumed,
  };
};

const greatest = (points: readonly PowerPoint[], of: (point: PowerPoint) => number): PowerPoint | undefined =>
  points.reduce<PowerPoint | undefined>((best, point) => (of(point) > (best ? of(best) : -Infinity) ? point : best), undefined);

/** The note that tells of a dynamometer. */
const rollersNoted = ({ session: { notes } }: Signals): string | undefined =>
  notes
    .map(({ text }) => text.replace(/^\s*#\s*/, '').trim())
    .find((text) => ROLLERS.test(text))
    ?.slice(0, 80);

const intakeC = (signals: Signals, { from, to }: Pull): number | undefined => {
  const values = signals.held('intake-air-temperature'),
    trusted = signals.trusted('intake-air-temperature');
  const middle = values && median(values.subarray(from, to), trusted?.subarray(from, to));
  return middle !== undefined && Number.isFinite(middle) ? middle : undefined;
};

const densityOf = ({ pressure, temperature, humidity }: Weather, assumed: string[]): { density: number; known: boolean } => {
  const missing = [pressure ? '' : `${STANDARD_KPA} kPa`, temperature ? '' : `${STANDARD_C} °C`].filter(Boolean);
  if (missing.length > 0) assumed.push(`air of ${missing.join(' and ')} for the drag: the weather is neither logged nor given`);
  return {
    density: airDensityKgPerM3(pressure?.kPa ?? STANDARD_KPA, temperature?.c ?? STANDARD_C, humidity?.percent ?? 50),
    known: missing.length === 0,
  };
};

const massFactor = (
  { vehicle: { body } }: Signals,
  { overallRatio }: RoadSpeed,
  assumed: string[],
): { factor: number; plusMinus: number } => {
  if (body.rotatingMassFactor !== undefined) return { factor: body.rotatingMassFactor, plusMinus: MASS_FACTOR_STATED };
  if (overallRatio !== undefined) {
    const factor = estimatedMassFactor(overallRatio);
    assumed.push(
      `turning parts add ${((factor - 1) * 100).toFixed(0)} % to the mass at an overall ratio of ${overallRatio.toFixed(2)} (rule for passenger cars)`,
    );
    return { factor, plusMinus: MASS_FACTOR_ESTIMATED };
  }
  assumed.push(
    `turning parts add ${((GUESSED_MASS_FACTOR - 1) * 100).toFixed(0)} % to the mass: body.rotatingMassFactor is not stated, nor body.tyreRadiusM, by which the gear would tell it`,
  );
  return { factor: GUESSED_MASS_FACTOR, plusMinus: MASS_FACTOR_GUESSED };
};

/** Charge held by a control does not follow the weather, so no factor stands for it. */
const correctionOf = (signals: Signals, pull: Pull, { pressure, temperature, humidity }: Weather): PullPower['correction'] => {
  const { aspiration } = signals.vehicle.engine;
  if (aspiration === 'turbocharged')
    return { refused: "not corrected: a turbocharger's control makes up for the weather, and a factor would count it twice" };
  const boosted = (pull.peakManifoldPressureKPa ?? 0) > 1.1 * signals.barometer.kPa;
  if (aspiration === undefined && boosted) return { refused: 'not corrected: engine.aspiration is not stated, and this pull shows boost' };
  const missing = [pressure ? '' : 'air pressure', temperature ? '' : 'air temperature at the intake'].filter(Boolean);
  if (!pressure || !temperature)
    return {
      refused: `not corrected: ${missing.join(' and ')} ${missing.length === 1 ? 'is' : 'are'} neither logged nor given (notes of the session, or "weather" in vehicle.json)`,
    };
  const dryKPa = dryAirKPa(pressure.kPa, temperature.c, humidity?.percent ?? 50);
  const iso = iso1585(dryKPa, temperature.c);
  return {
    saeJ1349: saeJ1349(dryKPa, temperature.c),
    iso1585: iso,
    iso1585InRange: iso >= ISO_1585_RANGE[0] && iso <= ISO_1585_RANGE[1],
    weather: `${pressure.kPa.toFixed(1)} kPa (${pressure.from}), ${temperature.c.toFixed(0)} °C (${temperature.from}), humidity ${humidity ? `${humidity.percent.toFixed(0)} % (${humidity.from})` : '50 %, assumed'}`,
  };
};
