// What the view shows and where it stands: plain data that survives a reload, and the pure steps from one state to the next.

import type { Alignment, RunRef, TraceChannel, TraceSpell, TraceSummary } from '../../server/src/protocol/trace.js';
import type { KeptView } from '../../server/src/protocol/traceMessages.js';

export type Against = 'time' | 'speed' | 'overlay';
export type Lanes = readonly (readonly string[])[];
export interface Range {
  readonly from: number;
  readonly to: number;
}

export interface ViewState {
  readonly uri: string;
  readonly lanes: Lanes;
  readonly units: Readonly<Record<string, string>>;
  readonly against: Against;
  /** Span of time shown, seconds. */
  readonly range: Range;
  readonly cursorS: number | undefined;
  readonly markS: number | undefined;
  readonly lane: number;
  /** Heights follow what is shown, rather than the whole session. */
  readonly fit: boolean;
  readonly runs: readonly RunRef[];
  readonly align: Alignment;
  readonly alignRpm: number;
}

/** Lanes by default, each shown where the log has one of its channels. */
const USUAL: readonly (readonly string[])[] = [
  ['lambda', 'lambda-2', 'target-lambda'],
  ['manifold-pressure', 'throttle'],
  ['engine-speed', 'vehicle-speed'],
  ['ignition-advance', 'knock-retard'],
  ['intake-air-temperature', 'coolant-temperature', 'oil-temperature'],
  ['fuel-pressure'],
];
/** Shown in their place where a log lacks what the usual lanes are of. */
const INSTEAD: Readonly<Record<string, readonly string[]>> = {
  lambda: ['short-term-fuel-trim', 'long-term-fuel-trim'],
  'manifold-pressure': ['mass-air-flow', 'engine-load'],
  throttle: ['pedal'],
};
const MOST_UNKNOWN = 4;

export function usualLanes(channels: readonly TraceChannel[]): Lanes {
  const there = new Set(channels.map(({ id }) => id));
  const lanes = USUAL.map((lane) => [
    ...new Set(lane.flatMap((id) => (there.has(id) ? [id] : (INSTEAD[id] ?? []).filter((other) => there.has(other))))),
  ]).filter((lane) => lane.length > 0);
  return lanes.length > 0 ? lanes : channels.slice(0, MOST_UNKNOWN).map(({ id }) => [id]);
}

/** Lanes kept from another session, less the channels that this one lacks; the usual ones where little is left. */
export function lanesFor(channels: readonly TraceChannel[], kept: Lanes | undefined): Lanes {
  const there = new Set(channels.map(({ id }) => id));
  const left = (kept ?? []).map((lane) => lane.filter((id) => there.has(id))).filter((lane) => lane.length > 0);
  return left.length > 0 ? left : usualLanes(channels);
}

/** The state a session opens in. */
export function firstState(summary: TraceSummary, kept: KeptView | null): ViewState {
  const pulls = summary.runs.map((run, index) => ({ ...run, index })).filter(({ pull }) => pull > 0);
  return {
    uri: summary.uri,
    lanes: lanesFor(summary.channels, kept?.lanes),
    units: kept?.units ?? {},
    against: 'time',
    range: { from: summary.fromS, to: summary.toS },
    cursorS: undefined,
    markS: undefined,
    lane: 0,
    fit: false,
    runs: pulls.slice(0, 6).map(({ index }) => ({ uri: summary.uri, run: index })),
    align: 'start',
    alignRpm: alignSpeed(summary),
  };
}

const alignSpeed = ({ runs }: TraceSummary): number => {
  const first = runs.find(({ pull }) => pull > 0);
  return first ? Math.round((first.fromRpm + 0.4 * (first.toRpm - first.fromRpm)) / 500) * 500 : 3000;
};

/** A state from before a reload, where it is one of this session; else undefined. */
export function restored(value: unknown, summary: TraceSummary): ViewState | undefined {
  const state = value as Partial<ViewState> | null | undefined;
  if (!state || state.uri !== summary.uri || !Array.isArray(state.lanes) || !isRange(state.range)) return undefined;
  const first = firstState(summary, null);
  return {
    ...first,
    lanes: lanesFor(summary.channels, state.lanes),
    units: typeof state.units === 'object' && state.units !== null ? state.units : {},
    against: state.against === 'speed' || state.against === 'overlay' ? state.against : 'time',
    range: within(state.range, { from: summary.fromS, to: summary.toS }, 0),
    cursorS: numberOr(state.cursorS),
    markS: numberOr(state.markS),
    lane: numberOr(state.lane) ?? 0,
    fit: state.fit === true,
    // Runs of other sessions wait until those are there again.
    runs: Array.isArray(state.runs)
      ? state.runs.filter(
          (ref) =>
            typeof ref?.uri === 'string' && Number.isSafeInteger(ref.run) && (ref.uri !== summary.uri || ref.run < summary.runs.length),
        )
      : first.runs,
    align: state.align === 'speed' || state.align === 'match' ? state.align : 'start',
    alignRpm: numberOr(state.alignRpm) ?? first.alignRpm,
  };
}

const numberOr = (value: unknown): number | undefined => (typeof value === 'number' && Number.isFinite(value) ? value : undefined);
const isRange = (value: unknown): value is Range =>
  numberOr((value as Range | undefined)?.from) !== undefined &&
  numberOr((value as Range).to) !== undefined &&
  (value as Range).from < (value as Range).to;

/** A range moved and cut so that it lies in the whole, and is no shorter than `leastS`. */
export function within({ from, to }: Range, whole: Range, least: number): Range {
  const length = Math.min(Math.max(to - from, least), whole.to - whole.from);
  const middle = (from + to) / 2;
  const start = Math.min(Math.max(to - from < least ? middle - length / 2 : from, whole.from), whole.to - length);
  return { from: start, to: start + length };
}

/** Zoomed by a factor (below 1 closer), the point `about` staying where it is. */
export const zoomed = ({ from, to }: Range, factor: number, about: number): Range => ({
  from: about - (about - from) * factor,
  to: about + (to - about) * factor,
});

/** A spell is shown with this share of its length around it, and at least so many seconds. */
const AROUND = 1.5;
const LEAST_AROUND_S = 2;

export const around = (fromS: number, toS: number): Range => {
  const each = Math.max(LEAST_AROUND_S, (toS - fromS) * AROUND);
  return { from: fromS - each, to: toS + each };
};

export const moved = ({ from, to }: Range, by: number): Range => ({ from: from + by, to: to + by });

// Lanes: every step gives new lanes, and leaves no empty one behind.

const kept = (lanes: readonly (readonly string[])[]): Lanes => lanes.filter((lane) => lane.length > 0);

export const without = (lanes: Lanes, id: string): Lanes => kept(lanes.map((lane) => lane.filter((other) => other !== id)));

export const withChannel = (lanes: Lanes, id: string): Lanes => (lanes.some((lane) => lane.includes(id)) ? lanes : [...lanes, [id]]);

export const withoutLane = (lanes: Lanes, at: number): Lanes => lanes.filter((_, index) => index !== at);

export function laneMoved(lanes: Lanes, at: number, by: -1 | 1): Lanes {
  const to = at + by;
  if (to < 0 || to >= lanes.length) return lanes;
  const next = [...lanes];
  [next[at], next[to]] = [next[to], next[at]];
  return next;
}

export const laneJoined = (lanes: Lanes, at: number): Lanes =>
  at <= 0 || at >= lanes.length
    ? lanes
    : lanes.flatMap((lane, index) => (index === at ? [] : [index === at - 1 ? [...lane, ...lanes[at]] : lane]));

/** A channel of a shared lane in one of its own below. */
export const takenOut = (lanes: Lanes, id: string): Lanes =>
  lanes.flatMap((lane) => (lane.includes(id) && lane.length > 1 ? [lane.filter((other) => other !== id), [id]] : [lane]));

/** The spell that begins next before or behind a time. */
export function neighbour<T extends { readonly fromS: number; readonly toS: number }>(
  spells: readonly T[],
  atS: number,
  by: -1 | 1,
): T | undefined {
  const hair = 1e-6;
  return by > 0 ? spells.find(({ fromS }) => fromS > atS + hair) : spells.findLast(({ fromS }) => fromS < atS - hair);
}

/** Visits to a cell among the findings, in place of those to another. */
export const withVisits = (
  summary: TraceSummary,
  cell: string,
  visits: readonly (readonly [fromS: number, toS: number])[],
  message: string,
  channel: string | undefined,
): TraceSummary => {
  const spells = visits.map(([fromS, toS]): TraceSpell => ({
    code: cell,
    severity: 'information',
    message,
    channel,
    fromS,
    toS,
    line: 0,
    character: 0,
  }));
  return {
    ...summary,
    spells: [...summary.spells.filter(({ code, line }) => !(line === 0 && code.startsWith('cell '))), ...spells].sort(
      (a, b) => a.fromS - b.fromS,
    ),
  };
};
