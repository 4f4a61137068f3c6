// A sensor at its stop: flat at the same extreme while the engine moves. Lambda at its ends is told by lambdaAtEnds.ts.

import { limitOf } from '../../formats/limits.js';
import type { QuantityId } from '../../quantities/quantity.js';
import { dithers } from '../columns/dither.js';
import type { FlatStatistics } from '../columns/flatRuns.js';
import type { Track } from '../columns/hold.js';
import type { Readings } from '../readings.js';
import type { Fault, Span } from '../signals.js';
import { endOfEqual, extremes, median } from '../columns/statistics.js';
import { deafToAir } from './deafToAir.js';
import { extremesOutside } from './extremesOutside.js';
import { lambdaAtEnds } from './lambdaAtEnds.js';
import { quietTop } from './quietTop.js';
import { isSensorEnd, LEANEST_BURNT_LAMBDA } from './scaleEnds.js';

/** Channels that measure an open-ended thing: their flat top is the sensor's, not the engine's. Temperatures level off by themselves. */
const OPEN_ENDED: ReadonlySet<QuantityId> = new Set<QuantityId>([
  'manifold-pressure',
  'mass-air-flow',
  'mass-air-flow-signal',
  'fuel-pressure',
  'oil-pressure',
]);
const HELD_BY_A_VALVE: ReadonlySet<QuantityId> = new Set<QuantityId>(['fuel-pressure', 'oil-pressure']);

/**
 * Clipped spells (and lambda's leaps to an end, as dropouts) of one channel. `air` is 1 where the exhaust may hold plain air, `taken` marks
 * samples of other faults.
 */
export const clippedOf = (
  readings: Readings,
  track: Track,
  flat: () => FlatStatistics,
  air: () => Uint8Array,
  taken: Uint8Array,
): Fault[] => {
  const { quantity } = track.channel;
  if (quantity === 'lambda' || quantity === 'lambda-2') {
    const deaf = deafToAir(readings, track),
      told = deaf.length > 0 ? taken.slice() : taken;
    for (const { from, to } of deaf) told.fill(1, from, to);
    return [...deaf, ...lambdaAtEnds(readings, track, flat, air, told)];
  }
  if (quantity === undefined || !OPEN_ENDED.has(quantity)) return [];
  return flatEnds(readings, track, flat, taken);
};

const flatEnds = (readings: Readings, track: Track, flat: () => FlatStatistics, taken: Uint8Array): Fault[] => {
  const { channel } = track;
  const rpm = readings.clean('engine-speed');
  const leastReadings = limitOf('clippedReadings', readings.vehicle.limits).value;
  const [least, greatest] = extremesOutside(track, taken, rpm);
  const found: Fault[] = [];
  for (const [end, kind] of [
    [greatest, 'clipped-high'],
    [least, 'clipped-low'],
  ] as const) {
    if (!(greatest > least)) break;
    if (kind === 'clipped-high' && hidesBoost(readings, channel.quantity!, end)) {
      found.push(
        ...levelsFrom(track, end - BAROMETER_UNREST_KPA, leastReadings).map((span): Fault => ({
          kind,
          channel,
          shape: 'at-barometer',
          value: end,
          ...span,
          data: {},
        })),
      );
      continue;
    }
    // Deep vacuum in overrun is as flat as a stop, and open throttle without boost rests at the barometer.
    if (channel.quantity === 'manifold-pressure' && (kind === 'clipped-low' || restsAtBarometer(readings, end))) continue;
    // A regulator or a relief valve holds its pressure as level as a stop.
    if (HELD_BY_A_VALVE.has(channel.quantity!) && !isSensorEnd(channel.quantity!, end)) continue;
    if (!dithers(track)) {
      if (kind === 'clipped-high' && isSensorEnd(channel.quantity!, end))
        found.push(
          ...levelsAt(track, end, leastReadings)
            .filter((span) => hidesMore(readings, channel.quantity!, end, span))
            .map((span): Fault => ({ kind, channel, shape: 'flat', value: end, ...span, data: {} })),
        );
      continue;
    }
    const flats = flatRuns(readings, track, flat, taken, kind, end, greatest - least);
    const spans =
      flats.length > 0 || kind === 'clipped-low' || HELD_BY_A_VALVE.has(channel.quantity!) ? flats : quietTop(track, end, taken);
    for (const span of spans) found.push({ kind, channel, shape: 'flat', value: end, ...span, data: {} });
  }
  return found;
};

/** Runs of one value at an end of a channel that dithers, where they are more than chance. */
const flatRuns = (
  readings: Readings,
  track: Track,
  flat: () => FlatStatistics,
  taken: Uint8Array,
  kind: 'clipped-high' | 'clipped-low',
  end: number,
  span: number,
): Span[] => {
  const {
      channel: { quantity },
      rows,
      count,
    } = track,
    leastReadings = limitOf('clippedReadings', readings.vehicle.limits).value;
  if (!isSensorEnd(quantity!, end) && !comesNear(track, end, span) && !(quantity === 'manifold-pressure' && drawsMore(readings, end)))
    return [];
  if (!staysAt(track, end, leastReadings)) return [];
  const runs = flat().runs.filter((run) => run.value === end && run.to - run.from >= leastReadings && taken[rows[run.from]] === 0);
  // Rare once is chance; the same stop met again and again is not: the evidence adds up, and the choice of two ends is paid for.
  const { runCount } = flat();
  const evidence = runs.reduce((sum, run) => sum + Math.max(0, run.nats - 2), 0);
  if (evidence < Math.log(runCount + 2) + (kind === 'clipped-high' ? 5 : 8)) return [];
  // The least that an engine draws is where it idles: only where the engine moved meanwhile has the sensor stopped.
  if (kind === 'clipped-low' && !runs.some((run) => engineMoved(readings, rows[run.from], rows[run.to - 1] + 1))) return [];
  return runs.map((run) => ({ from: rows[run.from], to: run.to < count ? rows[run.to] : rows[run.to - 1] + 1 }));
};

/** Shares of its range by which engine speed or manifold pressure must move for the engine to have moved. */
const ENGINE_MOVES_SHARE = 0.1;

const engineMoved = (readings: Readings, from: number, to: number): boolean =>
  (['engine-speed', 'manifold-pressure'] as const).some((quantity) => {
    const values = readings.clean(quantity);
    if (!values) return false;
    const [low, high] = extremes(values, from, to),
      [least, greatest] = extremes(values);
    return high - low > ENGINE_MOVES_SHARE * (greatest - least);
  });

const NEAR_SHARE = 0.15,
  LEAST_NEAR = 5;

/** Whether the channel reads close to the end too: a cap cuts off what varies, a level is stepped to. */
const comesNear = ({ values, count }: Track, end: number, span: number): boolean => {
  let near = 0;
  for (let k = 0; k < count && near < LEAST_NEAR; k++) if (values[k] !== end && Math.abs(values[k] - end) < NEAR_SHARE * span) near++;
  return near >= LEAST_NEAR;
};

/** Samples of each run of at least `leastReadings` at the value. */
const levelsAt = (track: Track, value: number, leastReadings: number): Span[] => {
  const { rows, count } = track,
    found: Span[] = [];
  for (let { from, to } = nextAt(track, value, 0, leastReadings); from < count; { from, to } = nextAt(track, value, to, leastReadings))
    found.push({ from: rows[from], to: to < count ? rows[to] : rows[to - 1] + 1 });
  return found;
};

/** Samples of each run of at least `leastReadings` at a value or above. */
const levelsFrom = ({ rows, values, count }: Track, least: number, leastReadings: number): Span[] => {
  const found: Span[] = [];
  for (let from = 0, to; from < count; from = to) {
    to = from + 1;
    if (!(values[from] >= least)) continue;
    while (to < count && values[to] >= least) to++;
    if (to - from >= leastReadings) found.push({ from: rows[from], to: to < count ? rows[to] : rows[to - 1] + 1 });
  }
  return found;
};

const staysAt = (track: Track, value: number, leastReadings: number): boolean => nextAt(track, value, 0, leastReadings).from < track.count;

/** The first run of at least `leastReadings` at the value from a reading on; behind the last reading where there is none. */
const nextAt = ({ values, count }: Track, value: number, first: number, leastReadings: number): Span => {
  for (let from = values.indexOf(value, first); from >= 0;) {
    const to = endOfEqual(values, from, count);
    if (to - from >= leastReadings) return { from, to };
    from = values.indexOf(value, to);
  }
  return { from: count, to: count };
};

const BOOSTED_FROM_KPA = 115;
const RISES_RPM = 500,
  MOVES_LAMBDA = 0.015,
  MORE_AIR_SHARE = 0.06;

/**
 * Whether the engine took more air while a channel without unrest stood at a sensor's end. A controller holds boost as level as a stop
 * does, so above a "1 bar" sensor's end the air itself must tell: flow for each turn, pulse width, or the greatest pressure that the
 * vehicle file states.
 */
const hidesMore = (readings: Readings, quantity: QuantityId, end: number, { from, to }: Span): boolean => {
  const { engine } = readings.vehicle;
  const moved = (of: QuantityId): number => {
    const values = readings.held(of);
    const [low, high] = values ? extremes(values, from, to) : [NaN, NaN];
    return high - low;
  };
  if (quantity !== 'manifold-pressure') return moved('engine-speed') > RISES_RPM;
  const boosted =
    (engine.aspiration !== undefined && engine.aspiration !== 'natural') || (engine.maxManifoldPressureKPa ?? 0) > BOOSTED_FROM_KPA;
  if (end < BOOSTED_FROM_KPA) return boosted && (moved('engine-speed') > RISES_RPM || moved('lambda') > MOVES_LAMBDA);
  if ((end >= 254 && end <= 255) || (engine.maxManifoldPressureKPa ?? 0) > 1.1 * end) return moved('engine-speed') > RISES_RPM;
  const rpm = readings.held('engine-speed'),
    flow = readings.held('mass-air-flow'),
    width = readings.held('injector-pulse-width');
  const rises = (values: Float64Array | undefined): boolean => {
    if (!values) return false;
    const [low, high] = extremes(values, from + 1, to);
    return high > (1 + MORE_AIR_SHARE) * low;
  };
  return rises(rpm && flow?.map((each, i) => each / rpm[i])) || rises(width);
};

/**
 * An open throttle on an engine without boost holds the manifold at the barometer: that flat top is the air's, unless the engine then draws
 * more than so much air would be.
 */
const restsAtBarometer = (readings: Readings, topKPa: number): boolean => {
  const { engine } = readings.vehicle;
  const boosted = (engine.aspiration !== undefined && engine.aspiration !== 'natural') || (engine.maxManifoldPressureKPa ?? 0) > 115;
  const aboveKPa = topKPa - readings.barometer.kPa;
  // Up a mountain of which nothing tells, the assumed air stands too high.
  const fromKPa = engine.aspiration === 'natural' || readings.barometer.from === 'assumed' ? -HIGHEST_PLACE_KPA : -12;
  return !boosted && aboveKPa > fromKPa && aboveKPa < 2.5 && (engine.aspiration === 'natural' || !drawsMore(readings, topKPa));
};

/** How far an open manifold's pressure swings about the barometer. Common practice, no source. */
const BAROMETER_UNREST_KPA = 4;

/**
 * A boosted engine whose manifold never shows more than the barometer, though its air does: a hose that only draws, a valve in it, a sensor
 * that ends there.
 */
const hidesBoost = (readings: Readings, quantity: QuantityId, topKPa: number): boolean => {
  const {
      barometer,
      vehicle: {
        engine: { aspiration },
      },
    } = readings,
    aboveKPa = topKPa - barometer.kPa;
  return (
    quantity === 'manifold-pressure' &&
    aspiration !== undefined &&
    aspiration !== 'natural' &&
    aboveKPa < BAROMETER_UNREST_KPA &&
    aboveKPa > (barometer.from === 'assumed' ? -HIGHEST_PLACE_KPA : -2 * BAROMETER_UNREST_KPA) &&
    drawsMore(readings, topKPa, BAROMETER_UNREST_KPA)
  );
};

/** Air at sea level less that of the highest roads. */
const HIGHEST_PLACE_KPA = 45;

/**
 * What an engine draws for each kPa of its manifold changes with its speed and its load, but not by so much (volumetric efficiency; common
 * practice, no source).
 */
const DRAWS_MORE = 1.25;
/** What burnt gas keeps of a cylinder before any air comes in, kPa of manifold pressure (Heywood ch. 6, from memory). */
const RESIDUAL_KPA = 12;
const LEAST_COMPARED = 10;
/** A manifold that empties or fills by more from reading to reading only passes: its fuel is not its air's. */
const PASSES_SHARE = 0.06;

/**
 * Whether air flow for each turn, the load, or the fuel's air at the manifold's top stand far above what they are for each kPa at part
 * load; `unrestKPa`: how far below its greatest value it is at its top.
 */
const drawsMore = (readings: Readings, topKPa: number, unrestKPa = 1e-6): boolean => {
  const pressure = readings.held('manifold-pressure'),
    rpm = readings.held('engine-speed'),
    flow = readings.held('mass-air-flow'),
    load = readings.held('engine-load');
  const lambda = readings.held('lambda'),
    duty = readings.held('injector-duty');
  if (!pressure || !rpm) return false;
  // Duty is width times speed.
  const width = readings.held('injector-pulse-width') ?? duty?.map((percent, i) => percent / rpm[i]);
  const more = (drawn: (i: number) => number): boolean => {
    const atTop: number[] = [],
      below: number[] = [];
    for (let i = 0; i < pressure.length; i++) {
      const perKPa = drawn(i) / Math.max(5, pressure[i] - RESIDUAL_KPA);
      if (!(rpm[i] > 1500) || !(perKPa > 0)) continue;
      if (pressure[i] >= topKPa - unrestKPa) atTop.push(perKPa);
      else if (
        pressure[i] > 0.5 * topKPa &&
        pressure[i] < 0.85 * topKPa &&
        !(Math.abs(pressure[i + 1] - pressure[i - 1]) > PASSES_SHARE * topKPa)
      )
        below.push(perKPa);
    }
    return (
      atTop.length >= LEAST_COMPARED &&
      below.length >= LEAST_COMPARED &&
      median(Float64Array.from(atTop)) > DRAWS_MORE * median(Float64Array.from(below))
    );
  };
  // Fuel times lambda is air; the injector's dead time only makes the part load look larger.
  const burns = (i: number): boolean => lambda![i] > 0.6 && lambda![i] < (pressure[i] >= topKPa - unrestKPa ? LEANEST_BURNT_LAMBDA : 1.2);
  return (
    (load !== undefined && more((i) => load[i])) ||
    (flow !== undefined && more((i) => flow[i] / rpm[i])) ||
    (width !== undefined && lambda !== undefined && more((i) => (burns(i) ? width[i] * lambda[i] : NaN)))
  );
};
