// A reading that keeps one value where the rest of this very log, at the same meetings of the channels that go with it, shows others.

import type { QuantityId } from '../../quantities/quantity.js';
import type { Track } from '../columns/hold.js';
import type { Readings } from '../readings.js';
import { allExpectedOf, type Expected, type Usual } from '../columns/related.js';
import { quantileOf } from '../columns/statistics.js';
import { SHUT } from './atOneSpeed.js';

const MOST_LOOKED_AT = 3000;
/** Off also means outside of nine in ten of the values met there, by this share of what is asked: a meeting may have two habits. */
const OUTSIDE_SHARE = 0.3;
/** Share of the samples in which it must be judged, share of those in which it must be off, and for how long in all. */
const LEAST_KNOWN_SHARE = 0.4,
  LEAST_OFF_SHARE = 0.1,
  LEAST_OFF_S = 3;
/** A foot just set down is ahead of the air: what is shorter does not count. */
const LASTS_S = 0.8;
/** What sums of seconds round off. */
const ROUNDED_OFF_S = 1e-6;
/** What stands still itself bears no witness. */
const LEAST_CHANGES = 4;

/** What is asked of the seconds just before and behind. */
const AROUND_S = 3,
  LEAST_AGREEING = 3;

/**
 * Whether the channel's one value over `[from, to)` is off what it reads elsewhere by more than `leastOff`, and what it should have read
 * moved meanwhile by more than that too (or the channel agreed just before and agrees again behind), as one of the pairs of related
 * channels tells it; as two of them where three are logged. `counts` says which samples may speak, by whom.
 */
export const unlikeElsewhere = (
  readings: Readings,
  track: Track,
  level: { readonly from: number; readonly to: number; readonly value: number },
  leastOff: number,
  counts: (i: number, by: QuantityId) => boolean,
): boolean => {
  if (readings.timeS[level.to - 1] - readings.timeS[level.from] < LEAST_OFF_S) return false;
  const all = allExpectedOf(readings, track);
  let left = all.length > 2 ? 2 : 1;
  const shown = (): Float64Array => readings.held(track.channel.quantity!)!;
  // What a fuel cut reads at the same speed and load is no habit of injectors that open.
  const { quantity } = track.channel,
    opens = (quantity === 'injector-pulse-width' || quantity === 'injector-duty') && level.value > SHUT;
  return all.some((expected) => saysSo(expected, shown, readings.timeS, level, leastOff, opens ? SHUT : -Infinity, counts) && --left === 0);
};

const saysSo = (
  expected: Expected,
  shownOf: () => Float64Array,
  timeS: Float64Array,
  { from, to, value }: { readonly from: number; readonly to: number; readonly value: number },
  leastOff: number,
  above: number,
  counts: (i: number, by: QuantityId) => boolean,
): boolean => {
  const elsewhere = expected.elsewhere(from, to),
    { by, teller } = expected;
  const stride = Math.max(1, Math.floor((to - from) / MOST_LOOKED_AT));
  const isOff = (usual: Usual): boolean =>
    usual.value > above &&
    !(Math.abs(value - usual.value) <= leastOff) &&
    !(Math.max(usual.low - value, value - usual.high) <= OUTSIDE_SHARE * leastOff);
  // Of most levels it is soon seen that they were never off for so long, whoever may speak.
  if (elsewhere.unlikeS(timeS, stride, isOff) < LEAST_OFF_S - ROUNDED_OFF_S) return false;
  const usual: number[] = [];
  let looked = 0,
    counted = 0,
    offS = 0,
    changes = 0,
    last = NaN,
    since = -1;
  const close = (until: number): void => {
    if (since >= 0 && timeS[until] - timeS[since] >= LASTS_S) offS += timeS[until] - timeS[since];
    since = -1;
  };
  for (let i = from; i < to; i += stride) {
    looked++;
    const may = counts(i, by),
      here = may ? elsewhere.at(i) : undefined;
    if (may) counted++;
    if (here && here.value > above) usual.push(here.value);
    if (!here || !isOff(here)) {
      close(i);
      continue;
    }
    if (since < 0) since = i;
    if (teller[i] !== last) {
      changes++;
      last = teller[i];
    }
  }
  close(to - 1);
  const perLookS = (timeS[to - 1] - timeS[from]) / Math.max(1, looked);
  if (
    usual.length < LEAST_KNOWN_SHARE * counted ||
    offS < LEAST_OFF_S ||
    offS < LEAST_OFF_SHARE * usual.length * perLookS ||
    changes < LEAST_CHANGES
  )
    return false;
  const values = Float64Array.from(usual);
  if (quantileOf(values, 0.95) - quantileOf(values, 0.05) > leastOff) return true;
  const shown = shownOf();
  const agrees = (first: number, step: 1 | -1): boolean => {
    let near = 0,
      far = 0;
    for (let i = first; i >= 0 && i < timeS.length && Math.abs(timeS[i] - timeS[first]) <= AROUND_S; i += step) {
      const here = elsewhere.at(i);
      if (here && shown[i] === shown[i]) {
        if (Math.abs(shown[i] - here.value) <= leastOff) near++;
        else far++;
      }
    }
    return near >= LEAST_AGREEING && near > 2 * far;
  };
  return agrees(from - 1, -1) && agrees(to, 1);
};
