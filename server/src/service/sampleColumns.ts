// A session's samples as columns for other engines: always the same columns, typed, in canonical units, so that seasons of files fit
// together.

import { QUANTITIES, QUANTITY_IDS, type QuantityId } from '../quantities/quantity.js';
import type { Channel } from '../formats/session/session.js';
import type { EventKind, Signals } from '../signals/signals.js';

export interface SampleColumn {
  /** Ends in its unit: `engine_speed_rpm`. */
  readonly name: string;
  readonly type: 'STRING' | 'INT32' | 'DOUBLE';
  readonly about: string;
  /** Of a channel's column. */
  readonly quantity?: QuantityId;
  readonly unit?: string;
}

/** What a unit is called at the end of a column's name; a unit left out has none (λ, gear, flags, a signal in V or Hz). */
const SUFFIX: Readonly<Record<string, string>> = {
  rpm: 'rpm',
  kPa: 'kpa',
  'kPa-gauge': 'kpa_gauge',
  '%': 'percent',
  degC: 'c',
  deg: 'deg',
  ms: 'ms',
  'g/s': 'g_per_s',
  'km/h': 'km_per_h',
};

const CHANNEL_IDS = QUANTITY_IDS.filter((id) => id !== 'time' && id !== 'trouble-code');

const channelColumn = (quantity: QuantityId): SampleColumn => {
  const { title, unit } = QUANTITIES[quantity];
  const suffix = quantity === 'battery-voltage' ? 'v' : SUFFIX[unit];
  // `lambda` alone is a word of some query languages.
  const plain = quantity === 'lambda' ? 'lambda_1' : quantity.replaceAll('-', '_');
  return { name: [plain, suffix].filter(Boolean).join('_'), type: 'DOUBLE', about: title, quantity, unit };
};

/** In the order of the file. Every column but the first four may be null: a channel that is not logged, or has no new sample in the row. */
export const SAMPLE_COLUMNS: readonly SampleColumn[] = [
  { name: 'vehicle', type: 'STRING', about: 'name in vehicle.json, else its folder; empty outside of any' },
  { name: 'session', type: 'STRING', about: 'path of the session' },
  { name: 'recording', type: 'INT32', about: 'recording within the session, from 1' },
  { name: 'time_s', type: 'DOUBLE', about: "seconds from the session's start", unit: 's' },
  { name: 'line', type: 'INT32', about: 'line of the text, from 1' },
  { name: 'event', type: 'STRING', about: 'what the engine was doing' },
  { name: 'pull', type: 'INT32', about: 'pull within the session, from 1; null outside of pulls' },
  {
    name: 'doubted',
    type: 'STRING',
    about: 'quantities whose reading in this row failed a check, with commas between; null where all may be believed',
  },
  ...CHANNEL_IDS.map(channelColumn),
];

/** One value a row; `null` where there is none. */
export type SampleValues = ReadonlyMap<string, (string | number | null)[]>;

/** Of events that overlap, the one that tells most. */
const EVENTS: readonly EventKind[] = ['pull', 'overrun', 'gear-shift', 'tip-in', 'cranking', 'engine-off', 'warm-up', 'idle', 'cruise'];

/** What stays out of the columns: channels that are not recognised, and further channels of a quantity. */
export const channelsLeftOut = ({ session: { channels } }: Signals): readonly Channel[] =>
  channels.filter(
    ({ quantity }, index) =>
      quantity !== 'time' &&
      quantity !== 'trouble-code' &&
      (quantity === undefined || channels.findIndex((other) => other.quantity === quantity) !== index),
  );

/** Samples `from` to `to` (exclusive). */
export function sampleValues(
  signals: Signals,
  { vehicle, session }: { readonly vehicle: string; readonly session: string },
  from: number,
  to: number,
): SampleValues {
  const count = to - from;
  const of = (value: (sample: number) => string | number | null): (string | number | null)[] =>
    Array.from({ length: count }, (_, at) => value(from + at));
  const known =
    (values: Float64Array | undefined) =>
    (sample: number): number | null =>
      values && values[sample] === values[sample] ? values[sample] : null;
  const during = EVENTS.map((kind) => ({ kind, flags: signals.during(kind) }));
  const pulls = numbersIn(signals.pulls, from, to);
  const recordings = numbersIn(signals.recordings, from, to);
  const doubted = doubtsIn(signals, from, to);
  return new Map<string, (string | number | null)[]>([
    ['vehicle', of(() => vehicle)],
    ['session', of(() => session)],
    ['recording', of((sample) => recordings[sample - from] || 1)],
    ['time_s', of((sample) => signals.timeS[sample])],
    ['line', of((sample) => signals.session.places.lineOf(sample) + 1)],
    ['event', of((sample) => during.find(({ flags }) => flags[sample] === 1)?.kind ?? null)],
    ['pull', of((sample) => pulls[sample - from] || null)],
    ['doubted', of((sample) => doubted[sample - from] ?? null)],
    ...SAMPLE_COLUMNS.flatMap(({ name, quantity }): [string, (number | null)[]][] =>
      quantity ? [[name, of(known(signals.channel(quantity)?.values)) as (number | null)[]]] : [],
    ),
  ]);
}

/** Which span, counted from 1, each sample lies in; 0 for none. */
function numbersIn(spans: readonly { readonly from: number; readonly to: number }[], from: number, to: number): Int32Array {
  const numbers = new Int32Array(to - from);
  spans.forEach((span, index) => numbers.fill(index + 1, Math.max(0, span.from - from), Math.max(0, Math.min(span.to, to) - from)));
  return numbers;
}

function doubtsIn({ faults }: Signals, from: number, to: number): (string | undefined)[] {
  const doubts: (string | undefined)[] = Array<undefined>(to - from).fill(undefined);
  for (const fault of faults) {
    const { quantity } = fault.channel;
    if (quantity === undefined) continue;
    for (let at = Math.max(0, fault.from - from); at < Math.min(fault.to, to) - from; at++) {
      const before = doubts[at];
      if (!before?.split(',').includes(quantity)) doubts[at] = before === undefined ? quantity : `${before},${quantity}`;
    }
  }
  return doubts;
}
