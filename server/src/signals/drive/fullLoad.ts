// Where an engine is pulled: at full load while its speed rises, or is held.

import { limitOf } from '../../formats/limits.js';
import { waitsAt } from './launch.js';
import { loadMask } from './opening.js';
import { openFromPercent } from './openThrottle.js';
import type { Readings } from '../readings.js';
import type { Span } from '../signals.js';
import { spansOf, without } from '../columns/spans.js';
import { quantileOf, sampleOf } from '../columns/statistics.js';

/**
 * Full load: the throttle at its limit, or pressure at this share of the greatest that a boosted log shows (boost held back by a half-open
 * throttle is no pull).
 */
const FULL_BOOST_SHARE = 0.85;
/**
 * Without boost the manifold must be open; held at a steady speed it must be so in any case: this share of the greatest pressure, and of
 * the barometer.
 */
const OPEN_SHARE = 0.95;
/** A tight filter costs an open manifold no more than this share of the barometer (common practice, no source). */
const RESTRICTED_SHARE = 0.9;
/** Greatest pressure above the barometer's from which a log shows boost. */
const BOOSTED_FROM = 1.1;
/** A small engine at low speed fills its manifold with the throttle a third open: held there it is driven, not pulled. */
const HELD_OPEN_PERCENT = 50;
/**
 * Where neither throttle nor pressure is logged: calculated load (SAE J1979: of the greatest torque at that speed) that is full, and that
 * is so where it is held. Common practice, no source.
 */
const FULL_PERCENT = 85,
  HELD_FULL_PERCENT = 95;
/** Boost builds up to full load: a pull begins at most so long before it. */
const SPOOL_S = 2;

/**
 * What full load is seen by: a throttle open so far, or a pressure from `fullKPa` on, and from `heldKPa` on where it is held; else the
 * calculated load.
 */
interface Drive {
  readonly timeS: Float64Array;
  readonly stepS: number;
  readonly rpm: Float64Array;
  readonly pressure: Float64Array | undefined;
  readonly throttle: Float64Array | undefined;
  /** Only where neither of them is logged. */
  readonly calculated: Float64Array | undefined;
  readonly load: Uint8Array;
  readonly openPercent: number;
  readonly fullKPa: number;
  readonly heldKPa: number;
}

const isFull = ({ load, throttle, pressure, calculated, openPercent, fullKPa, heldKPa }: Drive, i: number, isHeld: boolean): boolean =>
  load[i] === 1 &&
  ((throttle !== undefined && throttle[i] >= openPercent) ||
    (pressure !== undefined && pressure[i] >= (isHeld ? heldKPa : fullKPa)) ||
    (calculated !== undefined && calculated[i] >= (isHeld ? HELD_FULL_PERCENT : FULL_PERCENT)));

/** First and last sample of `[from, to)` at full load (−1 of none), for how long it is so and is held, and the engine speeds meanwhile. */
const fullLoadIn = (
  drive: Drive,
  from: number,
  to: number,
): {
  readonly first: number;
  readonly last: number;
  readonly fullS: number;
  readonly steadyS: number;
  readonly lowest: number;
  readonly highest: number;
} => {
  const { timeS, rpm, throttle } = drive;
  let first = -1,
    last = -1,
    fullS = 0,
    steadyS = 0,
    lowest = Infinity,
    highest = -Infinity;
  for (let i = from; i < to; i++) {
    if (!isFull(drive, i, false)) continue;
    if (first < 0) first = i;
    last = i;
    const stepS = i + 1 < timeS.length ? Math.min(timeS[i + 1] - timeS[i], 1) : drive.stepS;
    fullS += stepS;
    if (isFull(drive, i, true) && !(throttle !== undefined && throttle[i] < HELD_OPEN_PERCENT)) steadyS += stepS;
    if (rpm[i] < lowest) lowest = rpm[i];
    if (rpm[i] > highest) highest = rpm[i];
  }
  return { first, last, fullS, steadyS, lowest, highest };
};

/** Full load while the speed rises (or is held), cut where the speed falls back (a shift without lift). */
export const pullSpans = (readings: Readings, { rpm, pressure }: { rpm?: Float64Array; pressure?: Float64Array }): Span[] => {
  if (!rpm) return [];
  const throttle = readings.clean('throttle'),
    calculated = throttle || pressure ? undefined : readings.clean('engine-load');
  const advance = readings.clean('ignition-advance'),
    waits = advance && waitsAt(readings.clean('vehicle-speed'), advance),
    loaded = loadMask(readings, (quantity) =>
      quantity === 'engine-speed'
        ? rpm
        : quantity === 'manifold-pressure'
          ? pressure
          : quantity === 'throttle'
            ? throttle
            : readings.clean(quantity),
    ),
    load = waits ? without(loaded, waits) : loaded;
  const { timeS, recordings, barometer } = readings;
  const set = readings.vehicle.limits;
  const leastS = limitOf('pullS', set).value,
    leastRiseRpm = limitOf('pullRiseRpm', set).value,
    heldS = limitOf('pullHeldS', set).value;
  const openPercent = openFromPercent(set, throttle, pressure, timeS);
  const topKPa = pressure ? quantileOf(sampleOf(pressure), 0.998) : NaN;
  const fullKPa =
    topKPa > BOOSTED_FROM * barometer.kPa
      ? FULL_BOOST_SHARE * topKPa
      : Math.max(RESTRICTED_SHARE * barometer.kPa, OPEN_SHARE * Math.min(topKPa, barometer.kPa));
  const heldKPa = OPEN_SHARE * Math.max(topKPa, barometer.kPa);
  const pulls: Span[] = [],
    drive: Drive = { timeS, stepS: readings.stepS, rpm, pressure, throttle, calculated, load, openPercent, fullKPa, heldKPa };
  /** The piece cut to its full load, where that lasts. */
  const add = (from: number, to: number): void => {
    const { first, last, fullS, steadyS, lowest, highest } = fullLoadIn(drive, from, to);
    if (first < 0 || fullS < leastS - 1e-6 || !(highest - lowest >= leastRiseRpm || steadyS >= heldS - 1e-6)) return;
    while (timeS[first] - timeS[from] > SPOOL_S) from++;
    pulls.push({ from, to: last + 1 });
  };
  for (const span of spansOf(load, timeS, { recordings, bridgeS: 0.2, leastS })) {
    let start = span.from,
      peak = span.from;
    for (let i = span.from; i < span.to; i++) {
      if (!(rpm[i] === rpm[i])) continue;
      if (!(rpm[i] < rpm[peak])) peak = i;
      else if (rpm[peak] - rpm[i] > Math.max(250, 0.08 * rpm[peak])) {
        add(start, peak + 1);
        start = peak = i;
      }
    }
    add(start, span.to);
  }
  return pulls;
};
