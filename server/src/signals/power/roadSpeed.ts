// How fast the car was in a pull: from the road speed, from engine speed in a known gear, or from both where they keep one ratio.

import type { QuantityId } from '../../quantities/quantity.js';
import { gearRatios } from '../drive/pulls.js';
import type { Pull, Signals, Span } from '../signals.js';
import { ratePerS } from '../columns/spans.js';
import { median, quantisedStep } from '../columns/statistics.js';
import { speedMpsOf } from './roadLoad.js';

export interface RoadSpeed {
  readonly span: Span;
  /** Samples that hold a new reading, their times, and the speed there. */
  readonly sample: Int32Array;
  readonly timeS: Float64Array;
  readonly speedMps: Float64Array;
  readonly quantumMps: number;
  /** How far the speed as a whole may be off (95 %), as a share. */
  readonly scaleShare: number;
  /** Engine turns for each turn of the wheels; undefined where tyre or gears are not known. */
  readonly overallRatio: number | undefined;
  readonly from: string;
}

export interface Refused {
  readonly refused: string;
}

/** Road and engine speed keep one ratio while nothing slips; so much of a change is slip (converter, clutch, tyres). */
const SLIP_SHARE = 0.03;
/** A road speed read from the car may be off by so much (common practice, no source); gears and tyre as stated are better known. */
const SPEED_SCALE = 0.02;
const GEAR_SCALE = 0.015;
const LEAST_READINGS = 8;
const STEADY_RPM_PER_S = 100;
/** After a gear change the clutch gives the engine's swing back to the wheels: that is no power of the engine's. */
const AFTER_SHIFT_S = 0.6;
/** The end of a pull is the lift or the clutch: the engine flares. */
const BEFORE_END_S = 0.2;

export const roadSpeedOf = (signals: Signals, pull: Pull): RoadSpeed | Refused => {
  const span = longestUnshifted(signals, pull);
  const rpm = fresh(signals, 'engine-speed', span),
    speed = fresh(signals, 'vehicle-speed', span);
  const { body } = signals.vehicle;
  const atWheels =
    body.tyreRadiusM === undefined ? undefined : (rpmPerKmh: number): number => ((rpmPerKmh * 3.6 * 2 * Math.PI) / 60) * body.tyreRadiusM!;
  if (!speed) return rpm ? fromGear(signals, pull, span, rpm) : { refused: 'too few readings of road or engine speed in this pull' };
  const moving = Array.from(speed.values).every((kmh) => kmh > 3);
  if (!moving) return { refused: 'the road speed stands at zero in this pull: the car stood, or ran on a dynamometer' };
  const ratio = rpm && ratioWithoutSlip(signals, span);
  if (!rpm || ratio === undefined) {
    const own = !rpm ? undefined : atWheels?.(median(ratiosIn(signals, span)));
    return {
      span,
      sample: speed.sample,
      timeS: speed.timeS,
      speedMps: speed.values.map((kmh) => kmh / 3.6),
      quantumMps: speed.quantum / 3.6,
      scaleShare: SPEED_SCALE,
      overallRatio: own,
      from: rpm ? 'road speed alone: engine and road speed do not keep one ratio here (tyres, clutch or converter slip)' : 'road speed',
    };
  }
  // Engine speed is read finer than road speed; in one gear the two are the same reading.
  return {
    span,
    sample: rpm.sample,
    timeS: rpm.timeS,
    speedMps: rpm.values.map((value) => value / ratio / 3.6),
    quantumMps: rpm.quantum / ratio / 3.6,
    scaleShare: SPEED_SCALE,
    overallRatio: atWheels?.(ratio),
    from: `engine speed at ${ratio.toFixed(1)} rpm for each km/h of road speed`,
  };
};

interface Fresh {
  readonly sample: Int32Array;
  readonly timeS: Float64Array;
  readonly values: Float64Array;
  readonly quantum: number;
}

/** New and trusted readings of a channel in a span; undefined where they are too few. */
const fresh = (signals: Signals, quantity: QuantityId, { from, to }: Span): Fresh | undefined => {
  const channel = signals.channel(quantity),
    trusted = signals.trusted(quantity);
  if (!channel || !trusted) return undefined;
  const rows: number[] = [];
  for (let i = from; i < to; i++) if (channel.values[i] === channel.values[i] && trusted[i] === 1) rows.push(i);
  if (rows.length < LEAST_READINGS) return undefined;
  const sample = Int32Array.from(rows),
    values = Float64Array.from(sample, (i) => channel.values[i]);
  return { sample, timeS: Float64Array.from(sample, (i) => signals.timeS[i]), values, quantum: quantisedStep(values) };
};

/** The longest part of a pull without a gear change in it or just before it. */
const longestUnshifted = ({ timeS, during }: Signals, { from, to }: Pull): Span => {
  const shifting = during('gear-shift');
  let lastShiftS = -Infinity;
  for (let i = from - 1; i >= 0 && timeS[from] - timeS[i] < AFTER_SHIFT_S; i--)
    if (shifting[i] === 1) {
      lastShiftS = timeS[i];
      break;
    }
  let best: Span = { from, to: from },
    bestS = 0,
    start = from;
  for (let i = from; i < to; i++) {
    if (shifting[i] === 1) lastShiftS = timeS[i];
    if (timeS[i] - lastShiftS < AFTER_SHIFT_S) {
      start = i + 1;
      continue;
    }
    if (timeS[to - 1] - timeS[i] < BEFORE_END_S) break;
    if (timeS[i] - timeS[start] > bestS) {
      bestS = timeS[i] - timeS[start];
      best = { from: start, to: i + 1 };
    }
  }
  return best;
};

/** Engine speed over road speed, rpm for each km/h, where the car moves. */
const ratiosIn = (signals: Signals, { from, to }: Span): Float64Array => {
  const rpm = signals.held('engine-speed')!,
    speed = signals.held('vehicle-speed')!;
  return Float64Array.from({ length: to - from }, (_, k) => (speed[from + k] > 8 ? rpm[from + k] / speed[from + k] : NaN));
};

/**
 * The ratio of the gear driven; undefined where it moves in the pull. Steady driving in the same gear tells it best: a road speed that
 * comes late is then no matter.
 */
const ratioWithoutSlip = (signals: Signals, span: Span): number | undefined => {
  const ratios = ratiosIn(signals, span);
  const third = Math.max(2, Math.floor(ratios.length / 3));
  const here = median(ratios),
    early = median(ratios.subarray(0, third)),
    late = median(ratios.subarray(ratios.length - third));
  if (!(here > 0) || Math.abs(early / late - 1) > SLIP_SHARE) return undefined;
  const cluster = gearRatios(signals).find((each) => Math.abs(each / here - 1) < 0.05);
  if (cluster === undefined) return here;
  const steady = steadyRatio(signals, here);
  return steady !== undefined && Math.abs(steady / here - 1) < 0.05 ? steady : here;
};

const steadyRatio = (signals: Signals, near: number): number | undefined => {
  const rpm = signals.held('engine-speed')!,
    speed = signals.held('vehicle-speed')!;
  const rate = ratePerS(rpm, signals.timeS, 0.5);
  const ratios = rpm.map((value, i) =>
    speed[i] > 30 && Math.abs(rate[i]) < STEADY_RPM_PER_S && Math.abs(value / speed[i] / near - 1) < 0.05 ? value / speed[i] : NaN,
  );
  return ratios.filter((value) => value === value).length < 50 ? undefined : median(ratios);
};

/** Without a road speed: the gear must be logged and the gearbox stated. */
const fromGear = (signals: Signals, pull: Pull, span: Span, rpm: Fresh): RoadSpeed | Refused => {
  const { gearRatios: gears, finalDrive, tyreRadiusM } = signals.vehicle.body;
  const missing = [
    gears === undefined ? 'body.gearRatios' : '',
    finalDrive === undefined ? 'body.finalDrive' : '',
    tyreRadiusM === undefined ? 'body.tyreRadiusM' : '',
  ].filter(Boolean);
  if (pull.gear === undefined) return { refused: 'neither road speed nor gear is logged' };
  if (missing.length > 0)
    return {
      refused: `no road speed is logged, and ${missing.join(', ')} in vehicle.json would be needed to tell it from engine speed and gear`,
    };
  const ratio = Number.isInteger(pull.gear) ? gears![pull.gear - 1] : undefined;
  if (ratio === undefined) return { refused: `gear ${pull.gear} has no ratio in body.gearRatios` };
  const gear = signals.held('gear');
  for (let i = span.from; gear && i < span.to; i++)
    if (gear[i] === gear[i] && gear[i] !== pull.gear) return { refused: 'the gear changes in this pull' };
  const overallRatio = ratio * finalDrive!;
  const mps = (value: number): number => speedMpsOf(value, overallRatio, tyreRadiusM!);
  return {
    span,
    sample: rpm.sample,
    timeS: rpm.timeS,
    speedMps: rpm.values.map(mps),
    quantumMps: mps(rpm.quantum),
    scaleShare: GEAR_SCALE,
    overallRatio,
    from: `engine speed in gear ${pull.gear}, no slip assumed`,
  };
};
