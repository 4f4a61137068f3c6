// From the state and the numbers at hand to what each lane draws: over time, or runs over each other.

import type { NumberTable } from '../../server/src/protocol/numberTables.js';
import { RUN_TIME, type RunRef, type TraceChannel, type TraceSummary } from '../../server/src/protocol/trace.js';
import { fill, type TraceWords } from '../../server/src/protocol/traceWords.js';
import { lineDash, runDash } from './dashes.js';
import type { LaneBand, LaneLine } from './lanePlot.js';
import { overlaidName, roundOf } from './lists.js';
import { shown } from './numbers.js';
import { channelName } from './speech.js';
import type { LaneView, LegendEntry } from './stack.js';
import type { ViewState } from './state.js';
import { lineOf, nearestRow, overlaid, overOneX, type Line } from './tables.js';
import { readingOf, timeWords, type Reading } from './units.js';

export interface Numbers {
  readonly channels: readonly string[];
  readonly wide: NumberTable;
  readonly close: NumberTable | undefined;
}

const channelOf = (summary: TraceSummary, id: string): TraceChannel | undefined => summary.channels.find((channel) => channel.id === id);

/** A target is always drawn in the text's colour and dashed, so that it is told from what is measured. */
const TARGET_DASH = 1;

function lineStyles(
  lane: readonly string[],
  summary: TraceSummary,
  state: ViewState,
  foreground: number,
): { id: string; reading: Reading; line: LaneLine }[] {
  let colour = 0;
  return lane.flatMap((id) => {
    const channel = channelOf(summary, id);
    if (!channel) return [];
    const reading = readingOf(channel, summary, state.units);
    const target = channel.quantity === 'target-lambda';
    const at = target ? 0 : colour++;
    return [
      {
        id,
        reading,
        line: {
          label: channel.name,
          scale: reading.scale,
          colour: target ? foreground : at,
          dash: lineDash(target ? TARGET_DASH : at === 0 ? 0 : at + 1),
        },
      },
    ];
  });
}

/** From target to the lean limit, where both lambda and its target are in the lane. */
function bandOf(styles: readonly { id: string; reading: Reading }[], summary: TraceSummary, words: TraceWords): LaneBand | undefined {
  const target = styles.findIndex(({ id }) => id === 'target-lambda');
  if (target < 0 || !styles.some(({ id }) => id === 'lambda')) return undefined;
  const { reading } = styles[target];
  // The limit is so much lambda above the target, whatever unit is shown.
  const lambdaOf = inverse(reading);
  return { target, label: words.limit, limitOf: (shown) => reading.convert(lambdaOf(shown) + summary.leanLimit) };
}

/** Lambda from what is shown: λ and AFR are proportional, φ is the reciprocal. */
function inverse({ convert }: Reading): (shown: number) => number {
  const atOne = convert(1),
    atTwo = convert(2);
  return atTwo > atOne ? (shown) => shown / atOne : (shown) => 1 / shown;
}

function timeViews(state: ViewState, summary: TraceSummary, numbers: Numbers, words: TraceWords, foreground: number): LaneView[] {
  const { x, columns } = overlaid(numbers.wide, numbers.close);
  return state.lanes.map((lane, index): LaneView => {
    const styles = lineStyles(lane, summary, state, foreground);
    const linesFrom = (from: readonly Float32Array[]): Line[] =>
      styles.map(({ id, reading }) => {
        const column = from[numbers.channels.indexOf(id)];
        return column ? lineOf(column, reading.convert) : [];
      });
    return {
      x,
      lines: linesFrom(columns),
      whole: () => linesFrom(numbers.wide.columns),
      fixed: false,
      chips: styles.map(({ id, line, reading }) => ({ id, name: line.label, unit: reading.symbol, colour: line.colour, dash: line.dash })),
      spec: {
        lines: styles.map(({ line }) => line),
        band: bandOf(styles, summary, words),
        fit: state.fit,
        showAxis: index === state.lanes.length - 1,
        spells: summary.spells.filter(({ channel, severity }) => severity !== 'hint' && channel !== undefined && lane.includes(channel)),
        axisLabel: words.timeLabel,
        axisWords: (at) => timeWords(at, state.range.to - state.range.from),
      },
    };
  });
}

/** One table a run, with the channels asked for; behind them the differences of lambda. */
export interface RunNumbers {
  readonly refs: readonly RunRef[];
  readonly channels: readonly string[];
  readonly tables: readonly NumberTable[];
  readonly offsetsS: readonly number[];
}

interface NamedRun {
  readonly name: string;
  readonly round: number;
  readonly down: boolean;
}

/** Each run laid over others; undefined where it is gone. `colours`: how many there are before they begin anew. */
const namedRuns = (
  summary: TraceSummary,
  others: readonly TraceSummary[],
  refs: readonly RunRef[],
  words: TraceWords,
  colours: number,
): (NamedRun | undefined)[] =>
  refs.map(({ uri, run }, place) => {
    const of = [summary, ...others].find((each) => each.uri === uri);
    const each = of?.runs[run],
      round = roundOf(place, colours);
    return each && { name: overlaidName(of, run, round, of === summary, words), round, down: each.direction === 'down' };
  });

/** What each run's line looks like, for a legend. */
export const runLegend = (
  summary: TraceSummary,
  others: readonly TraceSummary[],
  numbers: RunNumbers | undefined,
  words: TraceWords,
  colours: number,
): LegendEntry[] =>
  namedRuns(summary, others, numbers?.refs ?? [], words, colours).flatMap((each, colour) =>
    each ? [{ name: each.name, colour, dash: runDash(each.round, each.down, 0) }] : [],
  );

function runViews(
  state: ViewState,
  summary: TraceSummary,
  others: readonly TraceSummary[],
  numbers: RunNumbers,
  words: TraceWords,
  foreground: number,
): LaneView[] {
  const named = namedRuns(summary, others, numbers.refs, words, foreground + 1);
  const several = numbers.refs.length > 1;
  const difference = several && numbers.tables.length > numbers.refs.length;
  const lanes = state.lanes.map((lane, index): LaneView => {
    const styles = lineStyles(lane, summary, state, foreground);
    const drawn = numbers.refs.flatMap((_, run) => (named[run] && numbers.tables[run]?.columns.length > 0 ? [run] : []));
    const { x, lines } = overOneX(
      drawn.map((run) => ({
        x: numbers.tables[run].x,
        lines: styles.map(({ id, reading }) => lineOf(numbers.tables[run].columns[numbers.channels.indexOf(id)], reading.convert)),
      })),
    );
    // A run has a colour and a dash, a channel of it dots more.
    const specs = drawn.flatMap((run) =>
      styles.map(({ id, line }, k): LaneLine => ({
        label: styles.length > 1 ? `${named[run]!.name}: ${channelName(summary, id)}` : named[run]!.name,
        scale: line.scale,
        colour: run,
        dash: runDash(named[run]!.round, named[run]!.down, k),
      })),
    );
    return {
      x,
      lines,
      whole: () => lines,
      fixed: false,
      chips: styles.map(({ id, line, reading }, k) => ({
        id,
        name: line.label,
        unit: reading.symbol,
        colour: foreground,
        dash: runDash(0, false, k),
      })),
      spec: {
        lines: specs,
        band: bandOf(styles, summary, words),
        fit: state.fit,
        spells: [],
        showAxis: !difference && index === state.lanes.length - 1,
        ...runAxis(state, words),
      },
    };
  });
  if (!difference) return lanes;
  const tables = numbers.tables.slice(numbers.refs.length);
  const drawn = tables.flatMap((table, k) => (table.columns.length > 0 && named[k + 1] ? [{ table, run: k + 1 }] : []));
  const { x, lines } = overOneX(drawn.map(({ table }) => ({ x: table.x, lines: [lineOf(table.columns[0], (value) => value)] })));
  const label = fill(words.lambdaDifference, named[0]?.name ?? '');
  return [
    ...lanes,
    {
      x,
      lines,
      whole: () => lines,
      fixed: true,
      chips: [{ id: '', name: label, unit: 'λ', colour: foreground, dash: lineDash(0) }],
      spec: {
        lines: drawn.map(({ run }) => ({
          label: named[run]!.name,
          scale: 'Δλ',
          colour: run,
          dash: runDash(named[run]!.round, named[run]!.down, 0),
        })),
        band: undefined,
        fit: state.fit,
        spells: [],
        showAxis: true,
        ...runAxis(state, words),
      },
    },
  ];
}

const runAxis = (state: ViewState, words: TraceWords): { axisLabel: string; axisWords: (x: number) => string } =>
  state.against === 'speed'
    ? { axisLabel: `${words.speed} (rpm)`, axisWords: (x) => String(Math.round(x)) }
    : { axisLabel: `${words.timeLabel} (s)`, axisWords: (x) => shown(String(Number(x.toFixed(2)))) };

/** The first run where it is of this session: what a place on runs over each other leads back to. */
function firstRun(
  numbers: RunNumbers | undefined,
  summary: TraceSummary,
): { readonly startS: number; readonly x: Float64Array; readonly seconds: Float32Array } | undefined {
  const ref = numbers?.refs[0],
    table = numbers?.tables[0];
  const seconds = table?.columns[numbers!.channels.indexOf(RUN_TIME)];
  return ref && ref.uri === summary.uri && table && seconds && seconds.length > 0
    ? { startS: summary.runs[ref.run].fromS, x: table.x, seconds }
    : undefined;
}

/** The time at which the first run passed a place. */
export function timeOnRun(numbers: RunNumbers | undefined, summary: TraceSummary, x: number): number | undefined {
  const run = firstRun(numbers, summary);
  return run && run.startS + run.seconds[nearestRow(run.x, x)];
}

/** A time farther than this from the first run has no place on it, seconds. */
const ON_RUN_S = 1;

/** Where the first run was at a time. */
export function placeOnRun(numbers: RunNumbers | undefined, summary: TraceSummary, timeS: number): number | undefined {
  const run = firstRun(numbers, summary);
  if (!run) return undefined;
  let best = 0;
  run.seconds.forEach((at, row) => {
    if (Math.abs(run.startS + at - timeS) < Math.abs(run.startS + run.seconds[best] - timeS)) best = row;
  });
  return Math.abs(run.startS + run.seconds[best] - timeS) < ON_RUN_S ? run.x[best] : undefined;
}

const NO_NUMBERS: NumberTable = { x: new Float64Array(), columns: [] };

/** What the lanes draw as they are looked at, empty where the numbers are still to come. */
export const viewsOf = (
  state: ViewState,
  summary: TraceSummary,
  others: readonly TraceSummary[],
  { ofTime, ofRuns }: { readonly ofTime?: Numbers; readonly ofRuns?: RunNumbers },
  words: TraceWords,
  foreground: number,
): LaneView[] =>
  state.against === 'time'
    ? timeViews(state, summary, ofTime ?? { channels: [], wide: NO_NUMBERS, close: undefined }, words, foreground)
    : runViews(state, summary, others, ofRuns ?? { refs: [], channels: [], tables: [], offsetsS: [] }, words, foreground);
