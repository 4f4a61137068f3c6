// A quantity that several columns tell, each of a part of the engine (knock of a cylinder, duty of a bank): the engine is no better off
// than its worst part.

import type { QuantityId } from '../../quantities/quantity.js';
import type { Channel } from '../../formats/session/session.js';
import { hold, trackOf } from './hold.js';
import { believed } from '../drive/operating.js';
import type { Signals } from '../signals.js';
import { rangeOfColumn } from './stretches.js';

export interface Worst {
  /** The greatest that any of the columns reads, where it is to be believed. Shared where there is one column: never written to. */
  readonly values: Float64Array;
  /** The column that reads it at a sample. */
  channelAt(sample: number): Channel;
}

/** Undefined without such a column. */
export const worstOf = (signals: Signals, quantity: QuantityId): Worst | undefined => {
  const first = signals.channel(quantity),
    own = believed(signals, quantity);
  if (!first || !own) return undefined;
  const columns = [first, ...othersOf(signals, quantity)];
  if (columns.length === 1) return { values: own, channelAt: () => first };
  const values = own.slice(),
    of = new Uint16Array(values.length);
  for (let column = 1; column < columns.length; column++)
    takeIn(values, of, column, heldOf(signals, columns[column]), wrongIn(signals, columns[column]));
  return { values, channelAt: (sample) => columns[of[sample]] };
};

/** Each column of a quantity, the first one first, where it is to be believed; none where the first is not logged. */
export const believedColumns = (
  signals: Signals,
  quantity: QuantityId,
): readonly { readonly channel: Channel; readonly values: Float64Array }[] => {
  const channel = signals.channel(quantity),
    values = believed(signals, quantity);
  if (!channel || !values) return [];
  return [{ channel, values }, ...othersOf(signals, quantity).map((other) => ({ channel: other, values: believedOf(signals, other) }))];
};

/** What a column beside the first one holds, where it is to be believed; a column of its own. */
export const believedOf = (signals: Signals, channel: Channel): Float64Array => {
  const wrong = wrongIn(signals, channel);
  return heldOf(signals, channel).map((value, i) => (wrong[i] === 1 ? NaN : value));
};

/** The greatest number that any column of a quantity holds, believed or not; -Infinity of none. */
export const mostHeld = (signals: Signals, quantity: QuantityId): number =>
  columnsOf(signals, quantity)
    .map((values) => rangeOfColumn(values).greatest)
    .reduce((most, value) => (value > most ? value : most), -Infinity);

/** What every column of a quantity holds, believed or not. */
export const columnsOf = (signals: Signals, quantity: QuantityId): Float64Array[] => {
  const first = signals.held(quantity);
  return first ? [first, ...othersOf(signals, quantity).map(({ values }) => values)] : [];
};

/** The columns of a quantity beside the first one. */
export const othersOf = (signals: Signals, quantity: QuantityId): Channel[] => {
  const first = signals.channel(quantity);
  return signals.session.channels.filter((channel) => channel.quantity === quantity && channel !== first);
};

export const heldOf = ({ session: { samples, shelf }, timeS }: Signals, channel: Channel): Float64Array =>
  channel.filled === samples
    ? channel.values
    : hold(
        trackOf(channel, timeS, () => new Int32Array(), shelf),
        timeS,
      );

const wrongIn = (signals: Signals, channel: Channel): Uint8Array => {
  const wrong = new Uint8Array(signals.timeS.length);
  for (const { from, to } of signals.faultsOf(channel)) wrong.fill(1, from, to);
  return wrong;
};

const takeIn = (values: Float64Array, of: Uint16Array, column: number, read: Float64Array, wrong: Uint8Array): void => {
  for (let i = 0; i < values.length; i++) {
    if (wrong[i] === 1 || read[i] !== read[i] || read[i] <= values[i]) continue;
    values[i] = read[i];
    of[i] = column;
  }
};
