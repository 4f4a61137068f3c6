// Sessions made from columns of numbers, for tests of what stands behind the reader. Places in the text are those of a plain CSV with one
// header line.

import { toCanonical } from '../../server/src/quantities/convert.js';
import { QUANTITIES, isQuantityId, type QuantityId } from '../../server/src/quantities/quantity.js';
import { UNITS, type UnitId } from '../../server/src/quantities/units.js';
import { range } from '../../server/src/formats/range.js';
import type { Channel, Session } from '../../server/src/formats/session/session.js';
import { Shelf } from '../../server/src/formats/shelf.js';

/** `columns` by quantity id (or any header), values as written in `units` (canonical without). */
export function sessionOf(timeS: Float64Array, columns: Record<string, ArrayLike<number>>, units: Record<string, UnitId> = {}): Session {
  const step =
    [...timeS]
      .slice(1)
      .map((each, i) => each - timeS[i])
      .sort((a, b) => a - b)[Math.max(0, (timeS.length - 1) >> 1)] ?? 0.1;
  const channels: Channel[] = Object.entries(columns).map(([name, written], index) => {
    const quantity: QuantityId | undefined = isQuantityId(name) ? name : undefined;
    const unit = quantity && UNITS[units[name] ?? QUANTITIES[quantity].unit];
    const convert = quantity && unit ? toCanonical(quantity, unit, { barometerKPa: 101.325, stoichAfr: 14.7 }) : (value: number) => value;
    const values = Float64Array.from(written, convert);
    return {
      index,
      name,
      header: unit ? `${name} (${unit.symbol})` : name,
      headerRange: range(0, 10 * (index + 1), 0, 10 * (index + 1) + 5),
      quantity,
      unit,
      quantityFrom: quantity ? 'name' : 'none',
      unitFrom: unit ? 'header' : 'none',
      values,
      filled: values.filter((value) => value === value).length,
      toCanonical: convert,
    };
  });
  const cell = (channel: number, from: number, to: number) => range(from + 1, 10 * (channel + 1), to + 1, 10 * (channel + 1) + 5);
  return {
    kind: 'session',
    samples: timeS.length,
    timeS,
    time: { kind: 'column', channel: 'time (s)', spread: false, medianStepS: step },
    recordingStarts: [0],
    channels,
    shelf: new Shelf(),
    notes: [],
    metadata: new Map(),
    ignored: [],
    problems: [],
    codes: [],
    headerRange: range(0, 0, 0, 10 * (channels.length + 1)),
    places: {
      cellRange: (channel, sample) => cell(channel, sample, sample),
      spanRange: cell,
      cellText: (channel, sample) => String(channels[channel].values[sample]),
      lineOf: (sample) => sample + 1,
      sampleAt: (line) => (line > 0 && line <= timeS.length ? line - 1 : undefined),
      channelAt: () => undefined,
    },
    form: 'wide',
    encoding: 'utf-8',
    delimiter: ',',
    decimalComma: false,
  } as Session;
}

/** Times of a log at a steady rate. */
export const everyS = (stepS: number, durationS: number): Float64Array =>
  Float64Array.from({ length: Math.round(durationS / stepS) }, (_, i) => i * stepS);
