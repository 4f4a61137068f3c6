// What other channels bear witness to while one stands still. Throttle, manifold pressure, air flow, load and pulse width all say how hard
// the engine works: at one engine speed they rise and fall together. And in one gear the road speed moves as the engine speed does.

import type { QuantityId } from '../../quantities/quantity.js';
import { dithers } from '../columns/dither.js';
import type { Track } from '../columns/hold.js';
import { above, mark } from '../columns/marks.js';
import { lastingRuns } from '../columns/lasting.js';
import type { Readings } from '../readings.js';
import { quantileOf, sampleBy, sampleOf } from '../columns/statistics.js';
import { isAnyAbove, nextBeyond } from '../columns/stretches.js';

/** Readings of how hard the engine works: each bears witness for the others. */
export const LOAD_READINGS: readonly QuantityId[] = [
  'manifold-pressure',
  'mass-air-flow',
  'engine-load',
  'throttle',
  'injector-pulse-width',
];

/** What follows the load. */
export const FOLLOWS_LOAD: ReadonlySet<QuantityId> = new Set<QuantityId>([...LOAD_READINGS, 'mass-air-flow-signal', 'injector-duty']);

/**
 * `clean` are the readings themselves, `within` what those of `[from, to)` say of each stroke; from `fullFrom` on the stroke is nearly
 * full: a reading below `fullFromClean` never is.
 */
export interface Witness {
  clean(): Float64Array;
  within(from: number, to: number): Float64Array;
  readonly range: number;
  readonly fullFrom: number;
  readonly fullFromClean: number;
}

/** Engine speeds that differ by less count as one (ln of their ratio). */
const ONE_SPEED = 0.12;
export const RUNNING_RPM = 600;
/** Pulse width (ms) or duty (%) of injectors that do not open. */
export const SHUT = 0.05;
/** What a speed band must hold before it speaks. */
const LEAST_READINGS = 8;
const LEAST_S = 1.5;
/** The air follows a foot so late. */
const FOLLOWS_S = 0.6;
/** Share of the spell whose speed bands must say that the load moved. */
const LEAST_SHARE = 0.25;
const MOST_LOOKED_AT = 3000;
/** Share of a witness's range (of the barometer, for the manifold) from which a stroke is nearly full. */
const FULL_SHARE = 0.75;
/** However gently a log was driven: what lies below this share of a stroke filled at the barometer is not full. */
const LEAST_FULL_SHARE = 0.55;
/** Share of the barometer from which the residual gas matters little. */
const LOADED_SHARE = 0.5;

/**
 * The other load readings of the log that show a living sensor's unrest, in a form that says how full each stroke is: air flow for each
 * turn;
 * for a throttle or a pedal never above the air around the car, since boost comes and goes behind an open throttle.
 */
export const witnessesFor = (readings: Readings, quantity: QuantityId): Witness[] => {
  const byFoot = quantity === 'throttle' || quantity === 'pedal';
  const known = (byFoot ? forFoot : forOthers)(readings.clean);
  return LOAD_READINGS.flatMap((other) => {
    if (other === quantity) return [];
    if (!known.has(other)) known.set(other, witnessOf(readings, other, byFoot));
    return known.get(other) ?? [];
  });
};

/** By the columns that they are found from: one load reading bears witness for many channels. */
const memory = () => {
  const made = new WeakMap<Readings['clean'], Map<QuantityId, Witness | undefined>>();
  return (clean: Readings['clean']): Map<QuantityId, Witness | undefined> => {
    let known = made.get(clean);
    if (!known) made.set(clean, (known = new Map()));
    return known;
  };
};
const forFoot = memory(),
  forOthers = memory();

const witnessOf = (readings: Readings, other: QuantityId, byFoot: boolean): Witness | undefined => {
  const channel = readings.channel(other);
  if (!channel || !dithers(readings.track(channel))) return undefined;
  const clean = (): Float64Array => readings.clean(other)!,
    count = readings.timeS.length;
  const sayingOf = (): Saying => ({ of: other, own: clean(), rpm: other === 'mass-air-flow' ? readings.clean('engine-speed') : undefined });
  const sample = sampleBy(count, sayingOf(), saidAt);
  const low = quantileOf(sample, 0.02);
  let high = quantileOf(sample, 0.98),
    cap = Infinity;
  // Whatever the values are cut at below, full is what the whole log shows.
  const atAirs = byFoot ? atBarometer(readings, sayingOf()) : Infinity;
  const fullFrom = Math.max(
    Math.min(low + FULL_SHARE * (high - low), FULL_SHARE * atAirs),
    byFoot && atAirs < Infinity ? LEAST_FULL_SHARE * atAirs : 0,
  );
  if (byFoot && other !== 'throttle') {
    const most = other === 'manifold-pressure' ? readings.barometer.kPa : quantileOf(sample, 0.6);
    if (high > most) cap = high = Math.max(most, fullFrom);
  }
  const within = (from: number, to: number): Float64Array => {
    const saying = sayingOf(),
      saysItself = other !== 'injector-pulse-width' && other !== 'mass-air-flow';
    return saysItself && cap === Infinity ? saying.own.subarray(from, to) : saidIn(saying, cap, from, to);
  };
  return high > low
    ? { clean, range: high - low, fullFrom, fullFromClean: other === 'mass-air-flow' ? -Infinity : fullFrom, within }
    : undefined;
};

/** A load reading, and what is needed to know what it says of a stroke. */
interface Saying {
  readonly of: QuantityId;
  readonly own: Float64Array;
  readonly rpm: Float64Array | undefined;
}

const saidAt = ({ of, own, rpm }: Saying, i: number): number => {
  if (of === 'mass-air-flow') return rpm && rpm[i] > RUNNING_RPM ? own[i] / rpm[i] : NaN;
  return of !== 'injector-pulse-width' || own[i] > SHUT ? own[i] : NaN;
};

/** The same of `[from, to)`, never above `cap`. */
const saidIn = (saying: Saying, cap: number, from: number, to: number): Float64Array => {
  const values = new Float64Array(to - from);
  for (let k = 0; k < values.length; k++) {
    const value = saidAt(saying, from + k);
    values[k] = value > cap ? cap : value;
  }
  return values;
};

/** Air for each turn of a running engine, NaN elsewhere: the flow itself goes with the speed. */
export const perTurn = (flow: Float64Array, rpm: Float64Array | undefined): Float64Array => {
  const values = new Float64Array(flow.length).fill(NaN);
  if (rpm) for (let i = 0; i < values.length; i++) if (rpm[i] > RUNNING_RPM) values[i] = flow[i] / rpm[i];
  return values;
};

/**
 * What a load reading shows of a stroke filled at the barometer: air and fuel of a stroke go with the manifold's pressure (ideal gas).
 * Infinite where that is not logged.
 */
const atBarometer = (readings: Readings, saying: Saying): number => {
  const { kPa } = readings.barometer;
  if (saying.of === 'manifold-pressure') return kPa;
  const pressure = readings.clean('manifold-pressure');
  if (!pressure || saying.of === 'throttle') return Infinity;
  const perKPa = sampleBy(pressure.length, { saying, pressure, fromKPa: LOADED_SHARE * kPa }, saidPerKPa);
  return perKPa.length >= LEAST_READINGS ? kPa * quantileOf(perKPa, 0.5) : Infinity;
};

const saidPerKPa = (
  { saying, pressure, fromKPa }: { readonly saying: Saying; readonly pressure: Float64Array; readonly fromKPa: number },
  i: number,
): number => (pressure[i] > fromKPa ? saidAt(saying, i) / pressure[i] : NaN);

/**
 * Whether a witness went through more than `share` of its range while the engine kept one speed, in bands of speed that fill a quarter of
 * `[from, to)` and two seconds.
 */
export const movedAtOneSpeed = (readings: Readings, witness: Witness, from: number, to: number, share: number): boolean => {
  const { timeS } = readings;
  const rpm = readings.clean('engine-speed');
  if (!rpm) return false;
  const stride = Math.max(1, Math.floor((to - from) / MOST_LOOKED_AT));
  const stepS = (timeS[to - 1] - timeS[from]) / Math.max(1, (to - from - 1) / stride);
  const shown = witness.within(from, to);
  const bands = new Map<number, number[]>();
  let all = 0,
    moved = 0;
  let first = from;
  while (first < to && timeS[first] - timeS[from] < FOLLOWS_S) first++;
  for (let i = first; i < to; i += stride) {
    if (!(rpm[i] > RUNNING_RPM) || shown[i - from] !== shown[i - from]) continue;
    const band = Math.floor(Math.log(rpm[i] / RUNNING_RPM) / ONE_SPEED);
    const known = bands.get(band);
    if (known) known.push(shown[i - from]);
    else bands.set(band, [shown[i - from]]);
    all++;
  }
  for (const values of bands.values()) {
    if (values.length < LEAST_READINGS || values.length * stepS < LEAST_S) continue;
    const inBand = Float64Array.from(values);
    if (quantileOf(inBand, 0.9) - quantileOf(inBand, 0.1) > share * witness.range) moved += values.length;
  }
  return moved >= LEAST_SHARE * all && moved * stepS >= 2;
};

/** Well above idle. */
export const DRIVEN_RPM = 1500;
const FULL_S = 1.2,
  LEAST_CHANGES = 4;

/** Whether a witness stood near full, well above idle speed, for more than a second and a twentieth of `[from, to)`. */
export const fullAtSpeed = (readings: Readings, witness: Witness, from: number, to: number): boolean => {
  const { timeS } = readings,
    { fullFrom } = witness;
  const rpm = readings.clean('engine-speed');
  if (!rpm || !isAnyAbove(DRIVEN_RPM, rpm, from + 1, to)) return false;
  const clean = witness.clean();
  if (nextBeyond(clean, from + 1, to, -Infinity, witness.fullFromClean) >= to) return false;
  const values = witness.within(from, to);
  let fullS = 0,
    changes = 0;
  for (let i = from + 1; i < to; i++) {
    if (!(rpm[i] > DRIVEN_RPM) || !(values[i - from] >= fullFrom)) continue;
    fullS += Math.min(1, timeS[i] - timeS[i - 1]);
    if (clean[i] !== clean[i - 1]) changes++;
  }
  // What stands still itself bears no witness.
  return changes >= LEAST_CHANGES && fullS >= Math.max(FULL_S, 0.05 * (timeS[to - 1] - timeS[from]));
};

/**
 * What was injected before has left the pipe so long after the injectors shut; then so many seconds of a living mixture say that they are
 * open.
 */
const CLEARED_S = 3,
  BURNS_S = 3,
  LEAST_BURNT_LAMBDA = 0.65,
  MOST_BURNT_LAMBDA = 1.12;

/** Whether lambda shows a mixture that burns, and lives, while the injectors are said to be shut. */
export const burns = ({ timeS, held, clean }: Readings, from: number, to: number): boolean => {
  const lambda = held('lambda') ?? held('lambda-2'),
    rpm = clean('engine-speed');
  return lambda !== undefined && rpm !== undefined && burnsIn(timeS, lambda, rpm, from, to);
};

const burnsIn = (timeS: Float64Array, lambda: Float64Array, rpm: Float64Array, from: number, to: number): boolean => {
  let burnsS = 0,
    changes = 0,
    first = from + 1;
  while (first < to && timeS[first] - timeS[from] < CLEARED_S) first++;
  if (timeS[to - 1] - timeS[first - 1] >= BURNS_S)
    for (let i = first; i < to; i++) {
      if (!(rpm[i] > RUNNING_RPM && lambda[i] > LEAST_BURNT_LAMBDA && lambda[i] < MOST_BURNT_LAMBDA)) continue;
      burnsS += Math.min(1, timeS[i] - timeS[i - 1]);
      if (lambda[i] !== lambda[i - 1]) changes++;
    }
  return burnsS >= BURNS_S && changes >= LEAST_CHANGES;
};

/** Below this a car stands, whatever the last digit says. */
export const STANDING_KMH = 3;
/**
 * A gear change or a clutch moves the engine speed by more than this within half a second; what is slower is the road's (slip of a
 * converter stays below `SLIPS`).
 */
const LEAP = 0.1,
  LEAP_S = 0.5,
  SLIPS = 1.25;
const LEAST_GEAR_S = 1.5;
/** Over this long whatever gears were used, so wide a spread is the road's. */
const ANY_GEAR = 1.6;

/**
 * Whether the engine speed says that the car went faster or slower within `[from, to)`: a quarter in one gear, or far more over `longS` in
 * whatever gears.
 */
export const roadSpeedMoved = ({ timeS, clean }: Pick<Readings, 'timeS' | 'clean'>, from: number, to: number, longS: number): boolean => {
  const rpm = clean('engine-speed');
  if (!rpm) return false;
  let since = from,
    low = Infinity,
    high = -Infinity,
    back = from;
  for (let i = from; i < to; i++) {
    const speed = rpm[i];
    if (!(speed > RUNNING_RPM)) {
      since = i + 1;
      low = Infinity;
      high = -Infinity;
      continue;
    }
    while (timeS[back] < timeS[i] - LEAP_S && back + 1 < i) back++;
    if (i > from && Math.abs(speed - rpm[back]) > LEAP * rpm[back]) {
      since = i;
      low = high = speed;
    }
    if (speed < low) low = speed;
    if (speed > high) high = speed;
    if (high > SLIPS * low && timeS[i] - timeS[since] >= LEAST_GEAR_S) return true;
  }
  if (timeS[to - 1] - timeS[from] < longS) return false;
  const piece = rpm.subarray(from, to),
    running = sampleOf(piece, 0, piece.length, mark(piece, above(RUNNING_RPM)));
  return quantileOf(running, 0.9) > ANY_GEAR * quantileOf(running, 0.1);
};

/** Runs of one value that last `leastS` or longer: samples from the first to behind the last equal reading. */
export const levelsOf = (readings: Readings, track: Track, leastS: number): { from: number; to: number; value: number }[] => {
  const { rows, values, count, longSpacingS } = track,
    { timeS } = readings;
  const found: { from: number; to: number; value: number }[] = [];
  for (const first of lastingRuns(readings, track))
    for (let a = first; a < count && values[a] === values[first];) {
      const b = endOfLevel(rows, values, count, timeS, a, 1 + 4 * longSpacingS);
      if (timeS[rows[b - 1]] - timeS[rows[a]] >= leastS) found.push({ from: rows[a], to: rows[b - 1] + 1, value: values[a] });
      a = b;
    }
  return found;
};

/** Index behind the readings that equal the one at `a` and follow each other within `apartS`. */
const endOfLevel = (rows: Int32Array, values: Float64Array, count: number, timeS: Float64Array, a: number, apartS: number): number => {
  const value = values[a];
  let b = a + 1;
  while (b < count && values[b] === value && timeS[rows[b]] - timeS[rows[b - 1]] <= apartS) b++;
  return b;
};

/** Share of the barometer from which an engine draws what it can. */
const FULL_MANIFOLD_SHARE = 0.85;
/** The same of what a log without manifold pressure shows at most. */
const FULL_STROKE_SHARE = 0.75;

/**
 * Whether the manifold holds as much as the air around it: behind it a throttle may stand anywhere, and only a foot tells of a throttle.
 */
export const fullManifold = (readings: Readings): ((i: number) => boolean) | undefined => {
  const pressure = readings.clean('manifold-pressure'),
    rpm = readings.clean('engine-speed');
  // Without a pressure the fullest strokes of this log stand in for it.
  const flow = readings.clean('mass-air-flow'),
    drawn = pressure ?? readings.clean('engine-load') ?? (flow && perTurn(flow, rpm));
  const full = drawn && (pressure ? FULL_MANIFOLD_SHARE * readings.barometer.kPa : FULL_STROKE_SHARE * quantileOf(sampleOf(drawn), 0.98));
  return drawn && ((i) => !(drawn[i] <= full!));
};
