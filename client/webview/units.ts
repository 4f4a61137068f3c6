// The units a reader may choose for a channel, and its values in them.

import { fromCanonical, relatedValues } from '../../server/src/quantities/convert.js';
import { formatNumber } from '../../server/src/quantities/format.js';
import { GASOLINE_SCALE_AFR } from '../../server/src/quantities/fuels.js';
import { QUANTITIES } from '../../server/src/quantities/quantity.js';
import { UNITS, type ConversionContext, type Unit } from '../../server/src/quantities/units.js';
import type { TraceChannel, TraceSummary } from '../../server/src/protocol/trace.js';
import { shown } from './numbers.js';

export interface Reading {
  /** Words behind the number. */
  readonly symbol: string;
  /** Lines of one scale share a height. */
  readonly scale: string;
  convert(canonical: number): number;
  format(shown: number): string;
}

/** Below every atmosphere, so that vacuum is among the units offered. */
const SOME_PRESSURE_KPA = 50;

/** Units for a channel, the canonical one first; none but its own for a channel that is not known. */
export function unitsFor({ quantity }: TraceChannel, { barometerKPa, fuel }: TraceSummary): readonly Unit[] {
  if (!quantity) return [];
  const unit = UNITS[QUANTITIES[quantity].unit];
  const units = relatedValues(SOME_PRESSURE_KPA, unit, { barometerKPa, stoichAfr: GASOLINE_SCALE_AFR }, fuel).map((each) => each.unit);
  return units.length > 0 ? units : [unit];
}

/**
 * How a channel is shown: in the unit the reader chose for its quantity, else as the log is written where that is one of ours, else
 * canonical.
 */
export function readingOf(channel: TraceChannel, summary: TraceSummary, chosen: Readonly<Record<string, string>>): Reading {
  const { quantity } = channel;
  if (!quantity)
    return {
      symbol: channel.symbol,
      scale: `${channel.symbol} ${channel.id}`,
      convert: (value) => value,
      format: (value) => shown(formatNumber(value, plainDigits(value))),
    };
  const units = unitsFor(channel, summary);
  const unit =
    units.find(({ symbol }) => symbol === chosen[choiceKey(channel)]) ??
    units.find(({ id }) => id === channel.writtenUnit && id !== 'afr') ??
    units[0];
  const context: ConversionContext = { barometerKPa: summary.barometerKPa, stoichAfr: summary.fuel?.stoichAfr ?? GASOLINE_SCALE_AFR };
  const digits = unit.id === 'lambda' || unit.id === 'phi' ? 3 : undefined;
  return {
    symbol: unit.symbol,
    scale: unit.symbol || channel.id,
    convert: fromCanonical(quantity, unit, context),
    format: (value) => shown(formatNumber(value, digits ?? unit)),
  };
}

/** What a unit is chosen for: all mixture channels read alike, every other quantity by itself. */
export const choiceKey = ({ quantity, id }: TraceChannel): string =>
  quantity ? (QUANTITIES[quantity].dimension === 'mixture' ? 'mixture' : quantity) : id;

const plainDigits = (value: number): number => (Math.abs(value) >= 1000 ? 0 : Math.abs(value) >= 10 ? 1 : 3);

/** `12.345 s`, `3:04.50`, `1:02:03.4`: as fine as the span shown asks for. */
export function timeWords(whenS: number, spanS: number): string {
  const digits = spanS > 600 ? 0 : spanS > 60 ? 1 : spanS > 5 ? 2 : 3;
  const sign = whenS < 0 ? '-' : '';
  const rounded = Number(Math.abs(whenS).toFixed(digits));
  const hours = Math.floor(rounded / 3600),
    minutes = Math.floor(rounded / 60) % 60;
  const seconds = (rounded - 3600 * hours - 60 * minutes).toFixed(digits);
  const padded = (text: string): string => (text.indexOf('.') === 1 || text.length === 1 ? `0${text}` : text);
  const last = shown(padded(seconds));
  return hours > 0 ? `${sign}${hours}:${String(minutes).padStart(2, '0')}:${last}` : `${sign}${minutes}:${last}`;
}
