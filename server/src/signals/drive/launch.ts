// Launches: the car stands, the throttle is open, and the engine is held at a speed because its torque is taken. What goes by unburnt then
// reads lean, and no fuel is missing.

import type { QuantityId } from '../../quantities/quantity.js';
import { onceFor } from '../once.js';
import { extremes, quantileOf, sampleOf } from '../columns/statistics.js';
import { above, drop, keep, upTo } from '../columns/marks.js';
import { ratePerS, spansOf, widened } from '../columns/spans.js';
import { offPercentOf } from '../faults/burntCut.js';
import { loadMask } from './opening.js';
import { believed, operatingOf } from './operating.js';
import type { Signals, Span } from '../signals.js';

/**
 * `isSure`: the ignition is logged, and taken back to where nothing pulls; else an engine that is held so may be loaded by its converter.
 */
export interface Launch extends Span {
  readonly isSure: boolean;
  readonly rpm: number;
  readonly advanceDeg: number;
}

/**
 * Slower a car stands (what counts the wheels begins there), and faster the log shows one that is driven on a road: on a dynamometer some
 * speeds stand still. Common practice, no source.
 */
const STANDS_KMH = 3,
  DRIVEN_KMH = 20;
/** At full load no engine is fired so late but to take its torque; held speeds wander by this share of it. Common practice, no source. */
const TAKEN_BACK_DEG = 0,
  HELD_SHARE = 0.08;
const LEAST_RPM = 1500,
  LEAST_S = 0.4,
  BRIDGE_S = 0.3;

/** 1 where a car that is driven in the log stands, and its ignition is taken back as far as it is logged; undefined where it never does. */
export const waitsAt = (kmh: Float64Array | undefined, advance: Float64Array | undefined): Uint8Array | undefined => {
  if (!kmh || (advance && !(extremes(advance)[0] <= TAKEN_BACK_DEG)) || !(extremes(kmh)[1] > DRIVEN_KMH)) return undefined;
  const waits = new Uint8Array(kmh.length);
  for (let i = 0; i < waits.length; i++) if (kmh[i] < STANDS_KMH && (!advance || advance[i] <= TAKEN_BACK_DEG)) waits[i] = 1;
  return waits;
};

/** 1 where the engine of a car that waits turns under load, by these columns; undefined where it never does. */
const loadedAt = (signals: Signals, column: (quantity: QuantityId) => Float64Array | undefined): Uint8Array | undefined => {
  const rpm = column('engine-speed'),
    waits = rpm && waitsAt(column('vehicle-speed'), column('ignition-advance'));
  for (let i = 0; waits && i < waits.length; i++) if (!(rpm[i] > LEAST_RPM)) waits[i] = 0;
  if (!waits?.includes(1)) return undefined;
  const { load } = operatingOf(signals);
  for (let i = 0; i < waits.length; i++) if (load[i] === 0) waits[i] = 0;
  return waits.includes(1) ? waits : undefined;
};

export const launchesOf = onceFor((signals: Signals): readonly Launch[] => {
  // Most drives never wait so: to believe fewer readings makes no launch, and whether they are to be believed is dear to find.
  const mask = loadedAt(signals, signals.held) && loadedAt(signals, (quantity) => believed(signals, quantity));
  if (!mask) return [];
  const rpm = believed(signals, 'engine-speed')!,
    advance = believed(signals, 'ignition-advance'),
    { timeS, recordings } = signals;
  return spansOf(mask, timeS, { recordings, bridgeS: BRIDGE_S, leastS: LEAST_S }).flatMap(({ from, to }): Launch[] => {
    // It rises to where it is held.
    while (from < to && rpm[from] < (1 - HELD_SHARE) * quantileOf(sampleOf(rpm.subarray(from, to)), 0.5)) from++;
    const held = sampleOf(rpm.subarray(from, to)),
      [least, most] = [quantileOf(held, 0.05), quantileOf(held, 0.95)];
    return timeS[to - 1] - timeS[from] >= LEAST_S && least > (1 - HELD_SHARE) * most
      ? [{ from, to, isSure: advance !== undefined, rpm: (least + most) / 2, advanceDeg: advance ? extremes(advance, from, to)[0] : NaN }]
      : [];
  });
});

/** What went by then is at the sensor a little later still. */
const BEHIND_S = 0.6;

/** 1 where lambda may be of a launch, `sureOnly`: of one that is beyond doubt; or of what burns behind the engine to keep its turbine up. */
export const ofLaunch = (signals: Signals, sureOnly: boolean): Uint8Array => {
  const mask = firedForTurbine(signals) ?? new Uint8Array(signals.timeS.length);
  for (const { from, to, isSure } of launchesOf(signals)) if (isSure || !sureOnly) mask.fill(1, from, to);
  return widened(mask, signals.timeS, 0, BEHIND_S);
};

/** Order of magnitude, no source. */
const PULLS_RPM_PER_S = 200;

/** 1 where the manifold is full behind a closed throttle, and the ignition is taken back to where nothing pulls. */
const firedForTurbine = (signals: Signals): Uint8Array | undefined => {
  // Most drives never are, and whether readings are to be believed is dear to find.
  const logged = signals.held('ignition-advance');
  if (!logged || !(extremes(logged)[0] <= TAKEN_BACK_DEG)) return undefined;
  if (!keep(loadMask(signals, signals.held), logged, upTo(TAKEN_BACK_DEG)).includes(1)) return undefined;
  const advance = believed(signals, 'ignition-advance'),
    throttle = believed(signals, 'throttle');
  if (!advance || !throttle) return undefined;
  const off = offPercentOf(throttle),
    mask = operatingOf(signals).load.map((each, i) => (each === 1 && advance[i] <= TAKEN_BACK_DEG && throttle[i] <= off ? 1 : 0)),
    rpm = believed(signals, 'engine-speed');
  // An engine that gains speed pulls: its throttle is open, whatever the sensor shows.
  return rpm ? drop(mask, ratePerS(rpm, signals.timeS, 0.5, mask), above(PULLS_RPM_PER_S)) : mask;
};
