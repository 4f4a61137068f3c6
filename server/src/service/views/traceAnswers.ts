// What a trace shows of a session that was read: what there is to draw, a window of it, one sample in full, the numbers of a span, the
// visits to a cell, the rows to be copied.

import { csvField } from '../../formats/csv/writeField.js';
import { limitOf } from '../../formats/limits.js';
import { readTable } from '../../formats/table/readTable.js';
import { vehicleFuel } from '../../formats/vehicle/vehicleFuel.js';
import { packTables } from '../../protocol/numberTables.js';
import type {
  CsvParams,
  CsvResult,
  SampleParams,
  SpanParams,
  SpanResult,
  TraceRun,
  TraceSample,
  TraceSummary,
  WindowParams,
  WindowResult,
} from '../../protocol/trace.js';
import { UNITS } from '../../quantities/units.js';
import { lastsS, sampleAtTime, spansOf } from '../../signals/columns/spans.js';
import type { Signals } from '../../signals/signals.js';
import { pullWords } from '../editor/documentSymbols.js';
import { fuelledCell } from '../fuelledCell.js';
import { cellWords, doingWords, doubtWords, type FuelledBy } from '../editor/sessionHover.js';
import { traceColumns, type TraceColumns } from './traceColumns.js';
import { traceWindow } from './traceWindow.js';

const columnsOf = (signals: Signals): TraceColumns | undefined => (signals.session.samples > 0 ? traceColumns(signals) : undefined);

const finite = (value: number): number | null => (Number.isFinite(value) ? value : null);

/** The sample whose time is nearest; the last of those at one time. */
function nearestSample(timeS: Float64Array, whenS: number): number {
  const after = sampleAtTime(timeS, whenS);
  if (after >= timeS.length) return timeS.length - 1;
  return after > 0 && whenS - timeS[after - 1] < timeS[after] - whenS ? after - 1 : after;
}

/** A summary as far as the session alone tells it. `headers`: of its channels; undefined for one that is worked out. */
export interface Picture {
  readonly summary: Omit<TraceSummary, 'uri' | 'name' | 'key' | 'spells' | 'fuelTable'>;
  readonly headers: readonly (string | undefined)[];
}

/** Undefined for a session without samples, as are most answers here. */
export function pictureOf(signals: Signals): Picture | undefined {
  const columns = columnsOf(signals),
    fuel = vehicleFuel(signals.vehicle);
  return (
    columns && {
      summary: { ...summaryOf(signals, columns), ...(fuel ? { fuel: { name: fuel.name, stoichAfr: fuel.stoichAfr } } : {}) },
      headers: columns.all.map(({ logged }) => logged?.header),
    }
  );
}

function summaryOf(signals: Signals, columns: TraceColumns): Omit<TraceSummary, 'uri' | 'name' | 'key' | 'spells' | 'fuel' | 'fuelTable'> {
  const { timeS } = signals;
  const endOf = (to: number): number => timeS[Math.max(0, to - 1)];
  return {
    samples: timeS.length,
    fromS: timeS[0],
    toS: Math.max(timeS[timeS.length - 1], timeS[0] + signals.stepS),
    stepS: signals.stepS,
    channels: columns.all.map(({ channel }) => channel),
    recordings: signals.recordings.filter(({ from, to }) => to > from).map(({ from, to }) => [timeS[from], endOf(to)] as const),
    runs: columns.sweeps.map(({ pull, direction, from, to, fromRpm, toRpm }): TraceRun => {
      const numbers = pull === undefined ? undefined : signals.pulls[pull];
      return {
        pull: pull === undefined ? 0 : pull + 1,
        direction,
        fromS: timeS[from],
        toS: endOf(to),
        fromRpm,
        toRpm,
        words: numbers ? pullWords(signals, numbers) : `${Math.round(fromRpm)} to ${Math.round(toRpm)} rpm`,
        ...(numbers?.worstAt === undefined ? {} : { worstS: timeS[numbers.worstAt] }),
      };
    }),
    barometerKPa: signals.barometer.kPa,
    leanLimit: limitOf('leanUnderLoad', signals.vehicle.limits).value,
  };
}

export type WindowQuestion = Omit<WindowParams, 'uri'>;

export function windowOf(
  signals: Signals,
  { channels, fromS, toS, pixels }: WindowQuestion,
): Omit<WindowResult<Uint8Array>, 'key'> | undefined {
  const columns = columnsOf(signals);
  if (!columns || !(fromS < toS)) return undefined;
  const {
    table,
    whole,
    pixels: served,
  } = traceWindow(
    signals,
    columns,
    channels.map((id) => columns.find(id)),
    fromS,
    toS,
    pixels,
  );
  return { ...packTables([table]), whole, pixels: served };
}

export type SampleQuestion = Omit<SampleParams, 'uri'>;

/** `fuel`: the table that the session speaks of. */
export function sampleOf(
  signals: Signals,
  { timeS, line }: SampleQuestion,
  fuel: (FuelledBy & { readonly uri: string }) | undefined,
): TraceSample | undefined {
  const columns = columnsOf(signals);
  const sample =
    columns &&
    (line !== undefined ? signals.session.places.sampleAt(line) : timeS === undefined ? undefined : nearestSample(signals.timeS, timeS));
  if (!columns || sample === undefined) return undefined;
  const fuelled = fuel && fuelledCell(signals, fuel.table, sample, fuel.delays.delaysS);
  const place = fuel && fuelled && fuel.table.cellRange(fuelled.row, fuelled.column);
  return {
    sample,
    timeS: signals.timeS[sample],
    line: signals.session.places.lineOf(sample),
    values: columns.all.map(({ values }) => finite(values[sample])),
    doing: doingWords(signals, sample),
    doubts: doubtWords(signals, sample),
    ...(fuel && fuelled && place
      ? {
          cell: {
            uri: fuel.uri,
            line: place.start.line,
            character: place.start.character,
            endCharacter: place.end.character,
            words: `${cellWords(fuel.table, fuelled.row, fuelled.column)} of ${fuel.name}`,
            sharePercent: Math.round(100 * fuelled.share),
            delayMs: Math.round(1000 * fuelled.delayS),
          },
        }
      : {}),
  };
}

export type SpanQuestion = Omit<SpanParams, 'uri'>;

export function spanOf(signals: Signals, { fromS, toS }: SpanQuestion): SpanResult | undefined {
  const columns = columnsOf(signals),
    { timeS } = signals;
  if (!columns) return undefined;
  const [from, to] = [nearestSample(timeS, Math.min(fromS, toS)), nearestSample(timeS, Math.max(fromS, toS))];
  return { fromS: timeS[from], toS: timeS[to], channels: columns.all.map(({ values }) => spanNumbers(values, timeS, from, to)) };
}

function spanNumbers(values: Float64Array, timeS: Float64Array, from: number, to: number): SpanResult['channels'][number] {
  let low = Infinity,
    high = -Infinity,
    area = 0,
    seconds = 0,
    sum = 0,
    count = 0;
  for (let i = from; i <= to; i++) {
    const value = values[i];
    if (value !== value) continue;
    if (value < low) low = value;
    if (value > high) high = value;
    sum += value;
    count++;
    const stepS = i > from ? timeS[i] - timeS[i - 1] : 0;
    if (stepS > 0 && values[i - 1] === values[i - 1]) {
      area += (stepS * (value + values[i - 1])) / 2;
      seconds += stepS;
    }
  }
  if (count === 0) return null;
  return { from: finite(values[from]), to: finite(values[to]), mean: seconds > 0 ? area / seconds : sum / count, low, high };
}

/** Visits shorter apart than this are one. */
const BRIDGE_S = 0.25;
const MOST_VISITS = 500;
/** The operating point moves slowly beside a fast log: so many looks a second are enough. */
const LOOKS_PER_S = 50;

/** `table`: its text; `delaysS`: one a sample. */
export interface VisitsQuestion {
  readonly table: string;
  readonly row: number;
  readonly column: number;
  readonly delaysS: Float64Array;
}

/** Spans of time in which a cell of the table fuelled the engine: the longest, by time. */
export function visitsOf(signals: Signals, { table: text, row, column, delaysS }: VisitsQuestion): [number, number][] {
  const { timeS, stepS, recordings } = signals,
    table = readTable(text);
  const mask = new Uint8Array(timeS.length);
  const every = Math.max(1, Math.floor(1 / (LOOKS_PER_S * stepS)));
  for (let i = 0; i < mask.length; i += every) {
    const found = fuelledCell(signals, table, i, delaysS);
    if (found?.row === row && found.column === column) mask.fill(1, i, i + every);
  }
  return spansOf(mask, timeS, { bridgeS: BRIDGE_S, recordings })
    .sort((a, b) => lastsS(b, timeS) - lastsS(a, timeS))
    .slice(0, MOST_VISITS)
    .map(({ from, to }): [number, number] => [timeS[from], timeS[to - 1]])
    .sort((a, b) => a[0] - b[0]);
}

/** No clipboard wants more. */
const MOST_CSV_ROWS = 200_000;

export type RowsQuestion = Omit<CsvParams, 'uri'>;

/** The span as a session log of its own: canonical units, the original times. */
export function rowsText(signals: Signals, { channels, fromS, toS }: RowsQuestion): CsvResult | undefined {
  const columns = columnsOf(signals);
  if (!columns) return undefined;
  const { timeS } = signals;
  const wanted = channels.flatMap((id) => columns.find(id) ?? []);
  const header = wanted.map(({ channel }) => {
    const symbol = channel.quantity && channel.unit ? UNITS[channel.unit].symbol : channel.symbol;
    return symbol ? `${channel.name} (${symbol})` : channel.name;
  });
  const from = sampleAtTime(timeS, fromS),
    to = Math.max(from, sampleAtTime(timeS, toS + 1e-9));
  const end = Math.min(to, from + MOST_CSV_ROWS);
  const lines = [['Time (s)', ...header].map(csvField).join(',')];
  for (let i = from; i < end; i++) {
    lines.push([short(timeS[i]), ...wanted.map(({ values }) => (values[i] === values[i] ? short(values[i]) : ''))].join(','));
  }
  return { text: `${lines.join('\n')}\n`, rows: end - from, left: to - end };
}

const short = (value: number): string => String(Number(value.toPrecision(9)));
