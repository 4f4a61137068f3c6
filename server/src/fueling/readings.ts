// What a session's lambda sensors and fuel trims read, as far as they are to be believed, and where the loop was closed.

import type { Channel } from '../formats/session/session.js';
import { QUANTITIES, type QuantityId } from '../quantities/quantity.js';
import type { Signals } from '../signals/signals.js';
import { betweenFresh, betweenReadings, freshRowsOfMost } from './delay/rhythm.js';
import { copyOf, roomFor } from './room.js';

/** The lambda (or, without a wideband sensor, the trim) samples of the session. */
export interface Readings {
  /** `trims`: no lambda to be believed; the engine computer holds lambda at its target and the trims tell what that takes. */
  readonly kind: 'lambda' | 'trims';
  readonly row: Int32Array;
  /** Mean of the banks' ln lambda; with kind `trims` ln of the trims, what meeting the target took. NaN where not to be believed. */
  readonly lnLambda: Float64Array;
  /** As shown, up to and at the sensor's lean end: no evidence there, but when a fuel cut arrives. */
  readonly lnShown: Float64Array;
  /** ln(bank 2 / bank 1), where both are read; of a track's readings with their trims (`wantedApart`). */
  readonly bankSpread: Float64Array | undefined;
}

/** A sensor that fails is wrong a little before and after too. */
const BEFORE_FAULT_S = 0.1;
const AFTER_FAULT_S = 0.3;

/** A quantity held over its blanks, NaN in its faults; undefined without such a channel. */
export const believed = (signals: Signals, quantity: QuantityId, beforeS = 0, afterS = 0): Float64Array | undefined => {
  const repeated = signals.held(quantity);
  const channel = signals.channel(quantity);
  if (!repeated || !channel) return undefined;
  const held = QUANTITIES[quantity].between === 'interpolate' ? betweenFresh(repeated, signals.timeS) : repeated;
  const faults = signals.faultsOf(channel).filter((fault) => fault.to > fault.from);
  if (faults.length === 0) return held;
  const values = copyOf(held);
  const { timeS } = signals;
  for (const { from, to } of faults) {
    let [first, last] = [from, to];
    while (first > 0 && timeS[first - 1] > timeS[from] - beforeS) first--;
    while (last < values.length && timeS[last] < timeS[to - 1] + afterS) last++;
    values.fill(NaN, first, last);
  }
  return values;
};

/** ln of the banks' lambda at the samples of the first bank's channel; a bank that is hardly ever to be believed is passed over. */
export const lambdaReadings = (signals: Signals): { readings: Readings; banks: readonly number[] } | undefined => {
  const ids = ['lambda', 'lambda-2'] as const;
  const banks = ids.flatMap((id, at) => {
    const values = believed(signals, id, BEFORE_FAULT_S, AFTER_FAULT_S),
      channel = signals.channel(id),
      good = values ? countPositive(values) : 0;
    return values && channel && good > 0 ? [{ bank: at + 1, values, channel, good }] : [];
  });
  const most = Math.max(0, ...banks.map(({ good }) => good));
  const used = banks.filter(({ good }) => good > 0.3 * most);
  if (used.length === 0) return undefined;
  const own = used[0].channel.values;
  const row = freshRowsOfMost(own) ?? rowsFilled(own);
  const [first, second] = used.map(({ values, channel }) => lnAt(row, values, shownUpToEnd(signals, channel)));
  const bankSpread = second && difference(second.read, first.read);
  if (second) {
    average(first.read, second.read);
    average(first.shown, second.shown);
  }
  return { readings: { kind: 'lambda', row, lnLambda: first.read, lnShown: first.shown, bankSpread }, banks: used.map(({ bank }) => bank) };
};

const countPositive = (values: Float64Array): number => {
  let count = 0;
  for (let row = 0; row < values.length; row++) if (values[row] > 0) count++;
  return count;
};

/** ln of what is read and what is shown at the rows; NaN where a sensor says nothing that can be. */
const lnAt = (
  rows: Int32Array,
  values: Float64Array,
  shown: Float64Array,
): { readonly read: Float64Array; readonly shown: Float64Array } => {
  const lnRead = roomFor(rows.length),
    lnShown = roomFor(rows.length);
  for (let index = 0; index < rows.length; index++) {
    const at = rows[index],
      value = values[at];
    lnRead[index] = lnOf(value);
    lnShown[index] = shown[at] === value ? lnRead[index] : lnOf(shown[at]);
  }
  return { read: lnRead, shown: lnShown };
};

const lnOf = (lambda: number): number => (lambda > 0 ? Math.log(lambda) : NaN);

const difference = (of: Float64Array, from: Float64Array): Float64Array => {
  const all = roomFor(of.length);
  for (let at = 0; at < all.length; at++) all[at] = of[at] - from[at];
  return all;
};

const average = (values: Float64Array, others: Float64Array): void => {
  for (let at = 0; at < values.length; at++) values[at] = (values[at] + others[at]) / 2;
};

const rowsFilled = (values: ArrayLike<number>): Int32Array => {
  const rows = new Int32Array(values.length);
  let count = 0;
  for (let at = 0; at < values.length; at++) if (values[at] === values[at]) rows[count++] = at;
  return rows.subarray(0, count);
};

/** A lambda channel's numbers, held over its blanks; faults other than the lean end are NaN. */
const shownUpToEnd = (signals: Signals, channel: Channel): Float64Array => {
  const values = copyOf(signals.held(channel.quantity!)!);
  for (const { kind, from, to } of signals.faultsOf(channel)) if (kind !== 'clipped-high') values.fill(NaN, from, to);
  return values;
};

export const trimReadings = (signals: Signals, trims: Float64Array | undefined): Readings | undefined => {
  const channel = signals.channel('short-term-fuel-trim') ?? signals.channel('short-term-fuel-trim-2');
  if (!channel || !trims) return undefined;
  const row = rowsFilled(channel.values);
  return {
    kind: 'trims',
    row,
    lnLambda: Float64Array.from(row, (at) => trims[at]),
    lnShown: new Float64Array(row.length),
    bankSpread: undefined,
  };
};

/** A trim or a target as it moved between its readings. */
const onTheWay = (signals: Signals, id: QuantityId): Float64Array | undefined => {
  const values = believed(signals, id);
  return values && betweenReadings(values, signals.channel(id)!.values, signals.timeS);
};

/**
 * ln((1 + short) (1 + long)) per row, mean of the banks, and bank 2 over bank 1 where both log theirs alike; undefined where no trim is
 * logged.
 */
export const lnTrims = (
  signals: Signals,
  banks: readonly number[],
): { readonly mean: Float64Array; readonly apart: Float64Array | undefined } | undefined => {
  const sides = banks
    .map((bank) => {
      const end = bank === 1 ? '' : '-2';
      return ([`short-term-fuel-trim${end}`, `long-term-fuel-trim${end}`] as QuantityId[]).map((id) => onTheWay(signals, id));
    })
    .filter((parts) => parts.some((part) => part));
  if (sides.length === 0) return undefined;
  const [first, second] = sides.map(lnSum) as [Float64Array, Float64Array?];
  if (!second) return { mean: first, apart: undefined };
  const areAlike = sides[0].every((part, kind) => (part === undefined) === (sides[1][kind] === undefined)),
    apart = areAlike ? difference(second, first) : undefined;
  average(first, second);
  return { mean: first, apart };
};

/** ln of the fuel that bank 2 wants over what bank 1 wants, at the readings: what lambda says of them, and what the trims hide of it. */
export const wantedApart = ({ row, bankSpread }: Readings, trimsApart: Float64Array | undefined): Float64Array | undefined => {
  if (!trimsApart) return bankSpread;
  const apart = bankSpread ? copyOf(bankSpread) : roomFor(row.length).fill(0);
  for (let index = 0; index < row.length; index++) apart[index] += trimsApart[row[index]];
  return apart;
};

const lnSum = (parts: readonly (Float64Array | undefined)[]): Float64Array => {
  const known = parts.filter((part) => part !== undefined),
    sum = roomFor(known[0].length).fill(0);
  for (const part of known) for (let row = 0; row < sum.length; row++) sum[row] += Math.log1p(part[row] / 100);
  return sum;
};

/** The short-term trim of a closed loop never stands still for long; in open loop it does, most often at nought. */
const CLOSED_LOOP_WINDOW_S = 0.8;
const CLOSED_LOOP_WINDOW_SAMPLES = 4;
const TRIM_NOUGHT_PERCENT = 0.05;
/** A loop that has just closed has its trim still to find. */
const LOOP_SETTLES_S = 2;

/** 1 where the short-term trim moved shortly before and moves shortly after; undefined where none is logged. */
export const closedLoop = (signals: Signals): Uint8Array | undefined => {
  const id = signals.channel('short-term-fuel-trim') ? 'short-term-fuel-trim' : 'short-term-fuel-trim-2';
  const trim = believed(signals, id);
  const channel = signals.channel(id);
  if (!trim || !channel) return undefined;
  const { timeS } = signals;
  const size = trim.length;
  const ownStepS = (timeS[size - 1] - timeS[0]) / Math.max(1, channel.filled);
  const windowS = Math.max(CLOSED_LOOP_WINDOW_S, CLOSED_LOOP_WINDOW_SAMPLES * ownStepS);
  const closed = new Uint8Array(size);
  let changedS = -Infinity;
  for (let row = 1; row < size; row++) {
    if (trim[row] !== trim[row - 1]) changedS = timeS[row];
    if (timeS[row] - changedS < windowS) closed[row] = 1;
  }
  // A swinging trim passes through nought, an open loop stays there.
  for (let from = 0; from < size;) {
    let to = from;
    while (to < size && Math.abs(trim[to]) <= TRIM_NOUGHT_PERCENT) to++;
    if (to > from && timeS[to - 1] - timeS[from] > windowS) closed.fill(0, from, to);
    from = to + 1;
  }
  changedS = Infinity;
  for (let row = size - 2; row >= 0; row--) {
    if (trim[row] !== trim[row + 1]) changedS = timeS[row];
    if (!(changedS - timeS[row] < windowS)) closed[row] = 0;
  }
  let openS = -Infinity;
  for (let row = 0; row < size; row++) {
    if (!closed[row]) openS = timeS[row];
    else if (timeS[row] - openS < LOOP_SETTLES_S) closed[row] = 0;
  }
  return closed;
};
