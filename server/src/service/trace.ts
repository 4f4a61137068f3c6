// The session as a picture: what there is to draw, a window of it, one sample in full, and the ways to the text and the table.

import type { Table } from '../formats/table.js';
import { csvField } from '../formats/csv/writeField.js';
import { limitOf } from '../formats/limits.js';
import { vehicleFuel } from '../formats/vehicleFuel.js';
import type {
  CsvParams, CsvResult, RunsParams, RunsResult, SampleParams, SpanParams, SpanResult, TraceRun, TraceSample, TraceSpell, TraceSummary,
  VisitsParams, VisitsResult, WindowParams, WindowResult,
} from '../protocol/trace.js';
import { packTables } from '../protocol/numberTables.js';
import { UNITS } from '../quantities/units.js';
import { lastsS, sampleAtTime, spansOf } from '../signals/spans.js';
import type { Signals } from '../signals/signals.js';
import type { FileCheck } from './check.js';
import { delaysOf } from './delays.js';
import { pullWords } from './documentSymbols.js';
import type { Documents } from './documents.js';
import type { Weigher } from './evidence.js';
import { fuelledCell } from './fuelledCell.js';
import { cellWords, doingWords, doubtWords } from './sessionHover.js';
import { cellAt } from './tableHover.js';
import { traceColumns, type TraceColumns } from './traceColumns.js';
import { overlayRuns, type Run } from './traceRuns.js';
import { traceWindow } from './traceWindow.js';
import { baseName } from './uris.js';

export interface TraceService {
  summary(uri: string): Promise<TraceSummary | undefined>;
  window(params: WindowParams): Promise<WindowResult<Uint8Array> | undefined>;
  sample(params: SampleParams): Promise<TraceSample | undefined>;
  span(params: SpanParams): Promise<SpanResult | undefined>;
  runs(params: RunsParams): Promise<RunsResult<Uint8Array> | undefined>;
  visits(params: VisitsParams): Promise<VisitsResult | undefined>;
  csv(params: CsvParams): Promise<CsvResult | undefined>;
}

export interface TraceParts {
  readonly documents: Documents;
  readonly weigher: Weigher;
  readonly check: (uri: string) => Promise<FileCheck | undefined>;
  readonly fuelTableOf: (sessionUri: string) => Promise<{ readonly table: Table; readonly name: string; readonly uri: string } | undefined>;
}

/** Every answer is undefined for a file that is no session, or is gone. */
export function createTrace({ documents, weigher, check, fuelTableOf }: TraceParts): TraceService {
  const session = async (uri: string): Promise<{ key: string; signals: Signals; columns: TraceColumns } | undefined> => {
    if ((await documents.kindOf(uri))?.kind !== 'session') return undefined;
    const read = await documents.signals(uri);
    return read && read.value.session.samples > 0 ? { key: read.key, signals: read.value, columns: traceColumns(read.value) } : undefined;
  };
  /** As the hover has them. */
  const delaysSoFar = async (uri: string, signals: Signals): Promise<Float64Array> => delaysOf(signals, await weigher.delaySoFar(uri)).delaysS;

  return {
    async summary(uri) {
      const read = await session(uri);
      if (!read) return undefined;
      const findings = (await check(uri))?.findings ?? [];
      const fuel = vehicleFuel(read.signals.vehicle);
      const table = await fuelTableOf(uri);
      return {
        ...summaryOf(read.signals, read.columns), uri, name: baseName(uri), key: read.key, spells: spellsOf(read.columns, findings),
        ...(fuel ? { fuel: { name: fuel.name, stoichAfr: fuel.stoichAfr } } : {}), ...(table ? { fuelTable: table.name } : {}),
      };
    },

    async window({ uri, channels, fromS, toS, pixels }) {
      const read = await session(uri);
      if (!read || !(fromS < toS)) return undefined;
      const wanted = channels.map((id) => read.columns.find(id));
      const { table, whole, pixels: served } = traceWindow(read.signals, read.columns, wanted, fromS, toS, pixels);
      return { ...packTables([table]), key: read.key, whole, pixels: served };
    },

    async sample({ uri, timeS, line }) {
      const read = await session(uri);
      const sample = read && (line !== undefined ? read.signals.session.places.sampleAt(line) : timeS === undefined ? undefined : nearestSample(read.signals.timeS, timeS));
      if (!read || sample === undefined) return undefined;
      const { signals, columns } = read;
      const fuel = await fuelTableOf(uri);
      const fuelled = fuel && fuelledCell(signals, fuel.table, sample, await delaysSoFar(uri, signals));
      const place = fuel && fuelled && fuel.table.cellRange(fuelled.row, fuelled.column);
      return {
        sample, timeS: signals.timeS[sample], line: signals.session.places.lineOf(sample),
        values: columns.all.map(({ values }) => finite(values[sample])),
        doing: doingWords(signals, sample), doubts: doubtWords(signals, sample),
        ...(fuel && fuelled && place ? { cell: {
          uri: fuel.uri, line: place.start.line, character: place.start.character, endCharacter: place.end.character,
          words: `${cellWords(fuel.table, fuelled.row, fuelled.column)} of ${fuel.name}`, sharePercent: Math.round(100 * fuelled.share), delayMs: Math.round(1000 * fuelled.delayS),
        } } : {}),
      };
    },

    async span({ uri, fromS, toS }) {
      const read = await session(uri);
      if (!read) return undefined;
      const { timeS } = read.signals;
      const [from, to] = [nearestSample(timeS, Math.min(fromS, toS)), nearestSample(timeS, Math.max(fromS, toS))];
      return { fromS: timeS[from], toS: timeS[to], channels: read.columns.all.map(({ values }) => spanNumbers(values, timeS, from, to)) };
    },

    async runs({ runs, ...options }) {
      const found = await Promise.all(runs.map(async ({ uri, run }): Promise<Run | undefined> => {
        const read = await session(uri);
        const sweep = read?.columns.sweeps[run];
        return read && sweep && { signals: read.signals, sweep, delaysS: await delaysSoFar(uri, read.signals) };
      }));
      const { tables, offsetsS } = overlayRuns(found, options);
      return { ...packTables(tables), offsetsS, directions: found.map((run) => run?.sweep.direction ?? 'up') };
    },

    async visits({ uri, line, character, session: sessionUri }) {
      const table = await documents.table(uri);
      const cell = table && cellAt(table.value, { line, character });
      if (!table || !cell) return undefined;
      const evidence = await weigher.evidence(uri);
      const moments = evidence?.value.cells[cell.row * table.value.columns.values.length + cell.column]?.moments ?? [];
      const sessions = (evidence?.value.sessions ?? []).map((each, index) => ({ uri: each.session, samples: moments.filter((moment) => moment.session === index).length }));
      const read = sessionUri === undefined ? undefined : await session(sessionUri);
      const index = sessions.findIndex((each) => each.uri === sessionUri);
      return {
        cell: cellWords(table.value, cell.row, cell.column), sessions: sessions.filter(({ samples }) => samples > 0).sort((a, b) => b.samples - a.samples),
        visits: read ? visitsOf(read.signals, table.value, cell, await delaysSoFar(sessionUri!, read.signals)) : [],
        ...(read && index >= 0 ? { worstS: moments.find((moment) => moment.session === index)?.timeS } : {}),
      };
    },

    async csv({ uri, channels, fromS, toS }) {
      const read = await session(uri);
      return read && csvOf(read.signals, read.columns, channels, fromS, toS);
    },
  };
}

const finite = (value: number): number | null => (Number.isFinite(value) ? value : null);

/** The sample whose time is nearest; the last of those at one time. */
export function nearestSample(timeS: Float64Array, whenS: number): number {
  const after = sampleAtTime(timeS, whenS);
  if (after >= timeS.length) return timeS.length - 1;
  return after > 0 && whenS - timeS[after - 1] < timeS[after] - whenS ? after - 1 : after;
}

function summaryOf(signals: Signals, columns: TraceColumns): Omit<TraceSummary, 'uri' | 'name' | 'key' | 'spells' | 'fuel' | 'fuelTable'> {
  const { timeS } = signals;
  const endOf = (to: number): number => timeS[Math.max(0, to - 1)];
  return {
    samples: timeS.length, fromS: timeS[0], toS: Math.max(timeS[timeS.length - 1], timeS[0] + signals.stepS), stepS: signals.stepS,
    channels: columns.all.map(({ channel }) => channel),
    recordings: signals.recordings.filter(({ from, to }) => to > from).map(({ from, to }) => [timeS[from], endOf(to)] as const),
    runs: columns.sweeps.map(({ pull, direction, from, to, fromRpm, toRpm }): TraceRun => {
      const numbers = pull === undefined ? undefined : signals.pulls[pull];
      return {
        pull: pull === undefined ? 0 : pull + 1, direction, fromS: timeS[from], toS: endOf(to), fromRpm, toRpm,
        words: numbers ? pullWords(signals, numbers) : `${Math.round(fromRpm)} to ${Math.round(toRpm)} rpm`,
        ...(numbers?.worstAt === undefined ? {} : { worstS: timeS[numbers.worstAt] }),
      };
    }),
    barometerKPa: signals.barometer.kPa, leanLimit: limitOf('leanUnderLoad', signals.vehicle.limits).value,
  };
}

function spellsOf(columns: TraceColumns, findings: FileCheck['findings']): TraceSpell[] {
  return findings.flatMap(({ code, severity, message, channel, timeS, range: { start } }) => (timeS ? [{
    code, severity, message, fromS: timeS[0], toS: timeS[1], line: start.line, character: start.character,
    ...(channel === undefined ? {} : { channel: columns.find(channel)?.channel.id ?? columns.all.find(({ logged }) => logged?.header === channel)?.channel.id }),
  }] : [])).sort((a, b) => a.fromS - b.fromS);
}

function spanNumbers(values: Float64Array, timeS: Float64Array, from: number, to: number): SpanResult['channels'][number] {
  let low = Infinity, high = -Infinity, area = 0, seconds = 0, sum = 0, count = 0;
  for (let i = from; i <= to; i++) {
    const value = values[i];
    if (value !== value) continue;
    if (value < low) low = value;
    if (value > high) high = value;
    sum += value;
    count++;
    const stepS = i > from ? timeS[i] - timeS[i - 1] : 0;
    if (stepS > 0 && values[i - 1] === values[i - 1]) { area += stepS * (value + values[i - 1]) / 2; seconds += stepS; }
  }
  if (count === 0) return null;
  return { from: finite(values[from]), to: finite(values[to]), mean: seconds > 0 ? area / seconds : sum / count, low, high };
}

/** Visits shorter apart than this are one. */
const BRIDGE_S = 0.25;
const MOST_VISITS = 500;
/** The operating point moves slowly beside a fast log: so many looks a second are enough. */
const LOOKS_PER_S = 50;

function visitsOf(signals: Signals, table: Table, cell: { readonly row: number; readonly column: number }, delaysS: Float64Array): [number, number][] {
  const { timeS, stepS, recordings } = signals;
  const mask = new Uint8Array(timeS.length);
  const every = Math.max(1, Math.floor(1 / (LOOKS_PER_S * stepS)));
  for (let i = 0; i < mask.length; i += every) {
    const found = fuelledCell(signals, table, i, delaysS);
    if (found?.row === cell.row && found.column === cell.column) mask.fill(1, i, i + every);
  }
  return spansOf(mask, timeS, { bridgeS: BRIDGE_S, recordings })
    .sort((a, b) => lastsS(b, timeS) - lastsS(a, timeS)).slice(0, MOST_VISITS)
    .map(({ from, to }): [number, number] => [timeS[from], timeS[to - 1]]).sort((a, b) => a[0] - b[0]);
}

/** No clipboard wants more. */
const MOST_CSV_ROWS = 200_000;

/** The span as a session log of its own: canonical units, the original times. */
function csvOf({ timeS }: Signals, columns: TraceColumns, ids: readonly string[], fromS: number, toS: number): CsvResult {
  const wanted = ids.flatMap((id) => columns.find(id) ?? []);
  const header = wanted.map(({ channel }) => {
    const symbol = channel.quantity && channel.unit ? UNITS[channel.unit].symbol : channel.symbol;
    return symbol ? `${channel.name} (${symbol})` : channel.name;
  });
  const from = sampleAtTime(timeS, fromS), to = Math.max(from, sampleAtTime(timeS, toS + 1e-9));
  const end = Math.min(to, from + MOST_CSV_ROWS);
  const lines = [['Time (s)', ...header].map(csvField).join(',')];
  for (let i = from; i < end; i++) {
    lines.push([short(timeS[i]), ...wanted.map(({ values }) => (values[i] === values[i] ? short(values[i]) : ''))].join(','));
  }
  return { text: `${lines.join('\n')}\n`, rows: end - from, left: to - end };
}

const short = (value: number): string => String(Number(value.toPrecision(9)));
