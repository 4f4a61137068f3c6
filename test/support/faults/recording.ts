// A recording that faults are planted in: what a logger would have written, what the engine really did, and the truth of each fault.

import type { FindingCode, Severity } from '../../../server/src/findings/finding.js';
import type { QuantityId } from '../../../server/src/quantities/quantity.js';

/** What the engine is doing at a sample; faults are placed by it and false alarms listed by it. */
export type EngineState = 'off' | 'cranking' | 'warm-up' | 'idle' | 'cruise' | 'tip-in' | 'pull' | 'shift' | 'overrun' | 'refuelling';

export interface RecordedChannel {
  readonly name: string;
  /** As the header shows it; empty for none. */
  readonly unit: string;
  readonly quantity: QuantityId;
  /** Canonical unit of the quantity, one a sample; NaN is an empty cell. */
  readonly values: Float64Array;
  readonly decimals: number;
  /** Canonical value → number in the file. */
  readonly written: (canonical: number) => number;
  /** Seconds between the channel's own new values (more than the log's step where it is slower). */
  readonly stepS: number;
}

export type FaultClass =
  | 'dropout: empty'
  | 'dropout: zero'
  | 'dropout: frozen'
  | 'dropout: full scale'
  | 'dropout: open circuit'
  | 'clipped: pressure sensor too small'
  | 'clipped: lambda output too narrow'
  | 'clipped: air flow'
  | 'stuck'
  | 'time: hole'
  | 'time: step back'
  | 'time: repeated'
  | 'unit in the header wrong'
  | 'AFR: header names the fuel, values on the gasoline scale'
  | 'AFR: true AFR of the fuel under a plain header'
  | 'AFR: gasoline scale while another fuel burns'
  | 'lean under load: fading pump, pressure logged'
  | 'lean under load: fading pump, no pressure'
  | 'lean under load: slight'
  | 'fuel pressure falls'
  | 'knock'
  | 'injector duty'
  | 'intake air hot'
  | 'coolant hot'
  | 'misfire on one bank'
  | 'exhaust leak at idle'
  | 'sensor behind the catalyst'
  | 'trouble code';

export type Spell = readonly [fromS: number, toS: number];

/** What was planted and what a right judgement says of it. */
export interface PlantedFault {
  readonly class: FaultClass;
  /** Column name and quantity; undefined where the fault is of the file. */
  readonly channel?: { readonly name: string; readonly quantity: QuantityId };
  /** Seconds from the session's start; empty where the fault is of the whole file. */
  readonly spells: readonly Spell[];
  /** The first is the name it should have, the others are names that are true too. */
  readonly codes: readonly FindingCode[];
  /** True consequences or neighbours of the fault: neither a hit nor a false alarm. */
  readonly also: readonly FindingCode[];
  readonly severities: readonly Severity[];
  /** Why these severities. */
  readonly because: string;
  /** Where a finding may begin and be right, one a spell; undefined where the fault has no onset of its own. */
  readonly onsets?: readonly Spell[];
  /** Two samples of the channel, seconds: allowed beside 0.25 s. */
  readonly twoSamplesS: number;
  /** For the list of misses. */
  readonly note: string;
}

export interface Recording {
  readonly source: string;
  readonly seed: number;
  readonly rateHz: number;
  /** Seconds from the session's start, rising. */
  readonly timeS: Float64Array;
  /** Time as the logger wrote it; differs from `timeS` where its clock was wrong. */
  readonly clockS: Float64Array;
  readonly channels: readonly RecordedChannel[];
  readonly state: readonly EngineState[];
  /** What the engine really did, whatever is logged; empty for real drives but for what they log. */
  readonly truth: ReadonlyMap<QuantityId, Float64Array>;
  /** `vehicle.json`. */
  readonly vehicle: Readonly<Record<string, unknown>>;
  /** Lines before the header, without `# `. */
  readonly notes: readonly string[];
  readonly layout: Layout;
  readonly faults: readonly PlantedFault[];
}

/** How the logger writes: delimiters, decimal comma, the unit of time. */
export interface Layout {
  readonly delimiter: ',' | ';' | '\t';
  readonly decimalComma: boolean;
  readonly time: 's' | 'ms';
  readonly brackets: '()' | '[]';
}

export const channelOf = (recording: Recording, quantity: QuantityId): RecordedChannel | undefined =>
  recording.channels.find((channel) => channel.quantity === quantity);

/** The recording with one channel changed. */
export const withChannel = (recording: Recording, changed: RecordedChannel): Recording => ({
  ...recording,
  channels: recording.channels.map((channel) => (channel.quantity === changed.quantity ? changed : channel)),
});

export const withFault = (recording: Recording, fault: PlantedFault): Recording => ({ ...recording, faults: [...recording.faults, fault] });

/** First sample at or after a time. */
export const sampleAt = (recording: Recording, timeS: number): number => {
  let low = 0,
    high = recording.timeS.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (recording.timeS[middle] < timeS) low = middle + 1;
    else high = middle;
  }
  return low;
};

/** Text of the session file. */
export const toCsv = (recording: Recording): string => {
  const { delimiter, decimalComma, time, brackets } = recording.layout;
  const number = (value: number, decimals: number): string => {
    if (Number.isNaN(value)) return '';
    const text = value.toFixed(decimals);
    return decimalComma ? text.replace('.', ',') : text;
  };
  const header = [
    `Time ${brackets[0]}${time}${brackets[1]}`,
    ...recording.channels.map((channel) => (channel.unit ? `${channel.name} ${brackets[0]}${channel.unit}${brackets[1]}` : channel.name)),
  ];
  const lines = [...recording.notes.map((note) => `# ${note}`), header.join(delimiter)];
  const cells = new Array<string>(header.length);
  for (let sample = 0; sample < recording.timeS.length; sample++) {
    cells[0] = time === 's' ? number(recording.clockS[sample], 3) : number(recording.clockS[sample] * 1000, 0);
    recording.channels.forEach((channel, index) => {
      const value = channel.values[sample];
      cells[index + 1] = Number.isNaN(value) ? '' : number(channel.written(value), channel.decimals);
    });
    lines.push(cells.join(delimiter));
  }
  return lines.join('\n') + '\n';
};
