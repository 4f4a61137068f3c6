// Where a log tells the delay: stretches in which the mixture moved, and the edges of fuel cuts, cut out and laid end to end.

import { GAP_S } from './gasPassed.js';
import { lagged } from './filters.js';
import { cyclesTurned } from './manifold.js';
import { copyOf, roomFor } from '../room.js';
import { reasonIndex } from '../doubts/leftOut.js';
import type { Span } from '../../signals/signals.js';
import type { Readings } from '../readings.js';
import type { Track } from '../track.js';

/** The values the table should have had at some rows, and the standard deviations of their logarithms. */
export interface Required {
  at(rows: Int32Array): { readonly values: Float64Array; readonly deviations: Float64Array };
}

/** Stretches of the log in which the mixture moved, cut out and laid end to end: what was injected, and what was then read. */
export interface Comparison {
  readonly timeS: Float64Array;
  /** The mixture (φ, fuel over what is needed) as the table and the evidence so far say it was injected. */
  readonly injected: Float64Array;
  /** The same without what comes and goes beside the table: enrichment and what makes up for the wall's film. */
  readonly calm: Float64Array;
  /** Standard deviation of both, as far as the table is not known. */
  readonly doubt: Float64Array;
  /**
   * How far the throttle is open (per cent / 100), where what a controller adds as it opens is told by nothing else; nought beside cuts.
   */
  readonly throttle: Float64Array | undefined;
  /** ln of the charge, up to a constant: what the fuel was metered for, and what it met when the intake shut. */
  readonly lnCharge: Float64Array;
  /**
   * Whether `lnCharge` is what an air meter saw, and the manifold's filling stands between it and the cylinders; engine cycles turned by
   * each row.
   */
  readonly throughManifold: boolean;
  readonly turned: Float64Array;
  readonly exhaustGPerS: Float64Array;
  /** The same as it is metered (`Track.meteredGPerS`): what the fuel goes with. */
  readonly meteredGPerS: Float64Array;
  /**
   * Beside the edges of fuel cuts, where `injected` stands at what the sensor shows before: seconds since the cut, negative before it. NaN
   * elsewhere.
   */
  readonly cutAgeS: Float64Array;
  readonly rpm: Float64Array | undefined;
  readonly passed: Float64Array;
  /** Rows (of the columns above) of the readings compared, window after window, ascending; and the first row of the window's stretch. */
  readonly rows: Int32Array;
  readonly from: Int32Array;
  readonly measured: Float64Array;
  /** First reading of each window, and the end. */
  readonly starts: Int32Array;
  /** 1 where a window holds the edge of a fuel cut; the level of the others is not compared. */
  readonly edge: Uint8Array;
  readonly leanest: number;
}

const WINDOW_S = 3;
/** What a window's first reading may still show was injected up to this long before. */
const LEAD_S = 2;
/** Windows are taken from slow, middling and fast flow alike, those that move most. */
const FLOW_CLASSES = 4;
const WINDOWS_A_CLASS = 6;
/** By so many of each class, and every so-manieth edge, a fit finds its way before all are asked. */
const FEW_A_CLASS = 2;
const FEW_OF_EDGES = 4;
const READINGS_A_WINDOW = 40;
/** Where the table is known to this, a move is believed. No source. */
const KNOWN_DEVIATION = 0.03;
/** The mixture must have moved by this much (standard deviation of φ) in a window for its timing to show. */
const LEAST_MOVE = 0.004;
/** Readings compared are limited to here (φ 0.65 is λ 1.54), or short of where this sensor stops. */
const LEANEST_PHI = 0.65;
const SHORT_OF_END = 0.97;

/** Where only the throttle tells of the overrun, the cut may have begun earlier than it looks. */
const BLIND_BEFORE_S = 0.7;
/**
 * Behind a cut the wall is dry; behind a change of load a table that the throttle asks is ahead of the charge, until the manifold has
 * filled. Where the load is the charge's own, changes tell most: what wall and controller add or keep then is a share of the film's growth,
 * which the fit finds (less than none where more is added than is kept).
 */
const BLIND_AFTER_CUT_S = 1;
const BLIND_AFTER_CHANGE_S = 0.6;
/** An edge is a cut that lasts, told exactly, some time after the last one. */
const EDGE_LASTS_S = 0.4;
const EDGE_BEFORE_S = 1;
const EDGE_AFTER_S = 1;
/** What the sensor shows while the cut is still on its way is what was burnt before it. */
export const EDGE_SHOWN_S = 0.06;
const MOST_EDGES = 16;

/**
 * ln of what was injected at each row by the injector's pulse, were the charge to stay as it is: of the value of the table that would have
 * asked for it. NaN where the wall runs dry and fills again.
 */
const lnFuelledByPulse = ({ commanded, timeS, cut, reason }: Track, metered: Float64Array): Float64Array => {
  const [overrun, engineOff, cold] = [reasonIndex('overrun'), reasonIndex('engine-off'), reasonIndex('cold-engine')];
  const lnFuelled = roomFor(timeS.length);
  let blindUntilS = -Infinity;
  for (let row = 0; row < lnFuelled.length; row++) {
    if (metered[row] === -Infinity || (cut ? cut[row] : reason[row] === overrun)) blindUntilS = timeS[row] + BLIND_AFTER_CUT_S;
    lnFuelled[row] = timeS[row] <= blindUntilS || reason[row] === engineOff || reason[row] === cold ? NaN : commanded[row] + metered[row];
  }
  return lnFuelled;
};

/** The same as table, target and trims say; NaN where the controller or the wall does what no channel tells. */
const lnFuelledByTable = ({ commanded, timeS, cut, reason, byThrottle }: Track): Float64Array => {
  const size = timeS.length;
  const [overrun, engineOff, transient, cold] = [
    reasonIndex('overrun'),
    reasonIndex('engine-off'),
    reasonIndex('transient'),
    reasonIndex('cold-engine'),
  ];
  const lnFuelled = roomFor(size);
  let untilS = -Infinity;
  for (let row = 0; row < size; row++) {
    if (cut?.[row] || reason[row] === overrun) untilS = Math.max(untilS, timeS[row] + BLIND_AFTER_CUT_S);
    else if (byThrottle && reason[row] === transient) untilS = Math.max(untilS, timeS[row] + BLIND_AFTER_CHANGE_S);
    lnFuelled[row] = timeS[row] <= untilS || reason[row] === engineOff || reason[row] === cold ? NaN : commanded[row];
  }
  for (let row = size - 1, edgeS = Infinity; row >= 0; row--) {
    if (reason[row] === overrun) edgeS = timeS[row];
    else if (edgeS - timeS[row] < BLIND_BEFORE_S) lnFuelled[row] = NaN;
  }
  return lnFuelled;
};

/** Of an edge: when its cut was first told, and the mixture before it. */
interface Edge {
  readonly cutS: number;
  readonly shown: number;
}
/** Readings `from` … `to` − 1; `move`: see `moveOf`, nothing of an edge. */
interface Window {
  readonly from: number;
  readonly to: number;
  readonly edge: Edge | undefined;
  readonly flow: number;
  readonly move: number;
}

/** Where a session tells the delay, and by which `few` of it most; `lnFuelled`: ln of what was injected, by row. */
export interface Stretches {
  readonly all: readonly Window[];
  readonly few: readonly Window[];
  readonly lnFuelled: Float64Array;
  readonly leanest: number;
}

/** The cuts' edges: before each the mixture is what the sensor still shows at that moment, behind it none. */
const edgesOf = ({ timeS, cut, cutIsOld, readings, exhaustGPerS }: Track, leanest: number): Window[] => {
  const edges: Window[] = [];
  if (!cut || cutIsOld) return edges;
  let lastCutS = -Infinity;
  let reading = 0;
  for (let row = 1; row < cut.length; row++) {
    if (cut[row] && !cut[row - 1] && timeS[row] - lastCutS > EDGE_BEFORE_S) {
      let end = row;
      while (end < cut.length && cut[end] && timeS[end] - timeS[row] < EDGE_AFTER_S) end++;
      while (reading < readings.row.length && timeS[readings.row[reading]] < timeS[row] - EDGE_SHOWN_S) reading++;
      let [sum, count, to] = [0, 0, reading];
      for (; to < readings.row.length && readings.row[to] < end; to++) {
        const phi = Math.exp(-readings.lnShown[to]);
        if (timeS[readings.row[to]] <= timeS[row] + EDGE_SHOWN_S && phi > 0) {
          sum += phi;
          count++;
        }
        if (count > 0 && phi < leanest && timeS[readings.row[to]] > timeS[row] + EDGE_SHOWN_S) {
          to = Math.min(to + 2, readings.row.length);
          break;
        }
      }
      const shown = sum / count;
      if (timeS[end - 1] - timeS[row] > EDGE_LASTS_S && count > 0 && shown > leanest + 0.1 && to - reading >= 3) {
        edges.push({ from: reading, to, edge: { cutS: timeS[row], shown }, flow: exhaustGPerS[row], move: 0 });
      }
    }
    if (cut[row]) lastCutS = timeS[row];
  }
  return edges;
};

/**
 * ln of the charge over the value the table should have had: a filling is of the manifold's pressure, an air flow is shared among the
 * cycles.
 */
const lnPerRequired = ({ chargeByPressure, throughManifold, manifoldKPa, rpm }: Track, row: number): number =>
  chargeByPressure && manifoldKPa ? Math.log(manifoldKPa[row]) : throughManifold && rpm ? -Math.log(rpm[row]) : 0;

/**
 * No more than so many, spread over the range of flow: edges at one flow tell the same, at flows far apart what of the delay goes with
 * flow.
 */
const spread = (edges: readonly Window[], most: number): Window[] => {
  const inOrder = [...edges].sort(byFlow),
    count = Math.min(most, edges.length);
  return Array.from({ length: count }, (_, each) => inOrder[Math.round((each * (edges.length - 1)) / Math.max(1, count - 1))]);
};

// What orders windows outlives a session, and what is compiled of it.
const byFlow = (one: Window, other: Window): number => one.flow - other.flow;
const byMove = (one: Window, other: Window): number => other.move - one.move;
const byStart = (one: Window, other: Window): number => one.from - other.from;

/** Where a session tells the delay, as far as the table is known; undefined where too little moved to tell. */
export const tellingStretches = (track: Track, required: Required): Stretches | undefined => {
  const { timeS, readings, exhaustGPerS } = track;
  if (readings.kind !== 'lambda') return undefined;
  const lnFuelled = track.metered ? lnFuelledByPulse(track, track.metered) : lnFuelledByTable(track);
  const known = required.at(readings.row),
    windows: Window[] = [];
  let first = 0;
  for (let index = 1; index <= readings.row.length; index++) {
    const gap = index === readings.row.length || timeS[readings.row[index]] - timeS[readings.row[index - 1]] > GAP_S;
    if (!gap && timeS[readings.row[index]] - timeS[readings.row[first]] < WINDOW_S) continue;
    const move = index - first >= 8 ? moveOf(lnFuelled, known, readings.row, first, index) : 0;
    if (move > LEAST_MOVE)
      windows.push({ from: first, to: index, edge: undefined, flow: exhaustGPerS[readings.row[(first + index) >> 1]], move });
    first = index;
  }
  windows.sort(byFlow);
  const chosen = Array.from({ length: FLOW_CLASSES }, (_, each) =>
    windows
      .slice(Math.floor((each * windows.length) / FLOW_CLASSES), Math.floor(((each + 1) * windows.length) / FLOW_CLASSES))
      .sort(byMove)
      .slice(0, WINDOWS_A_CLASS),
  );
  const leanest = Math.max(LEANEST_PHI, 1 / (SHORT_OF_END * leanestShown(readings.lnShown)));
  const edges = spread(edgesOf(track, leanest), MOST_EDGES);
  const all = [...chosen.flat(), ...edges].sort(byStart);
  if (all.length < 4) return undefined;
  return {
    all,
    few: [...chosen.flatMap((each) => each.slice(0, FEW_A_CLASS)), ...edges.filter((_, at) => at % FEW_OF_EDGES === 0)].sort(byStart),
    lnFuelled,
    leanest,
  };
};

/** Of a window's readings, `from` … `to` − 1, every so-manieth is compared, the first among them. */
const strideOf = (from: number, to: number): number => Math.max(1, Math.ceil((to - from) / READINGS_A_WINDOW));

/** Rows of those. */
const comparedOf = (rows: Int32Array, from: number, to: number): Int32Array => {
  const stride = strideOf(from, to),
    compared = new Int32Array(Math.ceil((to - from) / stride));
  for (let at = 0; at < compared.length; at++) compared[at] = rows[from + at * stride];
  return compared;
};

/** Rows of the session, one after the other, that a window takes in: its readings' and those before that they may show. */
const reachOf = ({ timeS }: Track, compared: Int32Array): Span => {
  let from = compared[0];
  while (from > 0 && timeS[from - 1] > timeS[compared[0]] - LEAD_S) from--;
  return { from, to: compared[compared.length - 1] + 1 };
};

// Each loop by itself: of all of them in one, what is compiled is large, and thrown away with the first other shape that any of them meets.

/** Takes a window's readings: the rows that they stand in where it is laid, and the mixture that they show. */
const takeReadings = (
  { from, to, edge }: Window,
  { row, lnShown, lnLambda }: Readings,
  moved: number,
  leanest: number,
  rows: Int32Array,
  measured: Float64Array,
): void => {
  const lnRead = edge ? lnShown : lnLambda,
    stride = strideOf(from, to);
  for (let at = 0, index = from; at < rows.length; at++, index += stride) {
    rows[at] = row[index] + moved;
    measured[at] = Math.max(leanest, Math.exp(-lnRead[index]));
  }
};

/** The charge that the fuel meets comes later than it was metered; a controller that foresees it is one that injects no time ahead. */
const chargeOf = (track: Track, source: Int32Array, values: Float64Array): Float64Array => {
  const charge = roomFor(source.length);
  for (let at = 0; at < charge.length; at++) charge[at] = Math.log(values[at]) + lnPerRequired(track, source[at]);
  return charge;
};

/** What a meter reads beside its pulses is as uncertain, seconds: about a cycle of the slowest engine. Order of magnitude, no source. */
const PULSES_OVER_S = 0.1;

/**
 * Behind an open throttle the air pulses through a meter (Guzzella and Onder, from memory), and rows pick what they meet of it: a flow that
 * turns back at the next row is told no better than by as much. Taken at its word, it would move a mixture that stays, and a fit finds a
 * sensor slow that shows none of it (errors of the regressor; Fuller 1987, from memory).
 */
export const doubtPulses = (doubt: Float64Array, charge: Float64Array, timeS: Float64Array): void => {
  const square = roomFor(charge.length).fill(0);
  for (let at = 1; at + 1 < square.length; at++) {
    const rises = charge[at] - charge[at - 1],
      falls = charge[at] - charge[at + 1];
    if (rises * falls > 0) square[at] = Math.min(Math.abs(rises), Math.abs(falls), 1) ** 2;
  }
  const around = lagged(lagged(square, timeS, PULSES_OVER_S), timeS, PULSES_OVER_S, GAP_S, true);
  for (let at = 0; at < doubt.length; at++) doubt[at] = Math.sqrt(doubt[at] ** 2 + Math.max(0, around[at]));
};

/** Puts the mixture in place of ln of what was injected, and its doubt in that of the table's. */
const takeMixture = (
  mixture: Float64Array,
  doubt: Float64Array,
  values: Float64Array,
  source: Int32Array,
  targetMoved: Float64Array | undefined,
): void => {
  for (let at = 0; at < mixture.length; at++) {
    mixture[at] = Math.exp(mixture[at]) / values[at];
    if (targetMoved) doubt[at] = Math.hypot(doubt[at], targetMoved[source[at]]);
    doubt[at] *= mixture[at];
  }
};

const withoutUnasked = (mixture: Float64Array, unasked: Float64Array, source: Int32Array): Float64Array => {
  const calm = copyOf(mixture);
  for (let at = 0; at < calm.length; at++) calm[at] *= Math.exp(-unasked[source[at]]);
  return calm;
};

/** Cuts windows out and lays them end to end. */
export const cutOut = (track: Track, chosen: readonly Window[], { lnFuelled, leanest }: Stretches, required: Required): Comparison => {
  const { timeS, exhaustGPerS, meteredGPerS, readings, rpm, unasked, targetMoved, throughManifold, byThrottle } = track;
  const compared = chosen.map(({ from, to }) => comparedOf(readings.row, from, to)),
    reaches = compared.map((rows) => reachOf(track, rows));
  const starts = endsOf(compared.map(({ length }) => length)),
    ends = endsOf(reaches.map(({ from, to }) => to - from)),
    source = rowsOf(reaches, ends);
  const rows = new Int32Array(starts[chosen.length]),
    from = new Int32Array(rows.length),
    measured = new Float64Array(rows.length);
  for (let window = 0; window < chosen.length; window++) {
    const first = starts[window],
      end = starts[window + 1];
    from.fill(ends[window], first, end);
    takeReadings(
      chosen[window],
      readings,
      ends[window] - reaches[window].from,
      leanest,
      rows.subarray(first, end),
      measured.subarray(first, end),
    );
  }
  const column = (values: Float64Array): Float64Array => valuesOf(values, reaches, ends);
  const mixture = column(lnFuelled),
    { values, deviations: doubt } = required.at(source),
    cutAge = roomFor(source.length).fill(NaN);
  const charge = chargeOf(track, source, values),
    ownTimeS = column(timeS);
  if (track.throughManifold) doubtPulses(doubt, charge, ownTimeS);
  takeMixture(mixture, doubt, values, source, targetMoved);
  const throttle = track.throttle && !track.metered ? column(track.throttle) : undefined;
  if (throttle) for (let at = 0; at < throttle.length; at++) throttle[at] /= 100;
  const calm = unasked ? withoutUnasked(mixture, unasked, source) : copyOf(mixture);
  for (let window = 0; window < chosen.length; window++) {
    const { edge } = chosen[window];
    if (!edge) continue;
    for (let at = ends[window]; at < ends[window + 1]; at++) cutAge[at] = timeS[source[at]] - edge.cutS;
    mixture.fill(edge.shown, ends[window], ends[window + 1]);
    charge.fill(0, ends[window], ends[window + 1]);
    throttle?.fill(0, ends[window], ends[window + 1]);
  }
  // Written out, of one shape for all sessions: that of a spread is let go with the last of them, and what is compiled for it too.
  const speeds = rpm && column(rpm);
  return {
    timeS: ownTimeS,
    exhaustGPerS: column(exhaustGPerS),
    injected: mixture,
    calm,
    doubt,
    throttle,
    cutAgeS: cutAge,
    lnCharge: charge,
    meteredGPerS: column(meteredGPerS),
    throughManifold: throughManifold || (byThrottle && rpm !== undefined),
    turned: speeds ? cyclesTurned(ownTimeS, speeds) : roomFor(source.length).fill(0),
    edge: Uint8Array.from(chosen, ({ edge }) => (edge ? 1 : 0)),
    rpm: speeds,
    passed: column(track.passed),
    rows,
    from,
    measured,
    starts,
    leanest,
  };
};

/** Where each of some lengths begins, were they laid end to end, and where the last one ends. */
const endsOf = (lengths: readonly number[]): Int32Array => {
  const ends = new Int32Array(lengths.length + 1);
  for (let at = 0; at < lengths.length; at++) ends[at + 1] = ends[at] + lengths[at];
  return ends;
};

const rowsOf = (reaches: readonly Span[], starts: Int32Array): Int32Array => {
  const rows = new Int32Array(starts[reaches.length]);
  for (let window = 0; window < reaches.length; window++)
    for (let at = starts[window], row = reaches[window].from; at < starts[window + 1]; at++) rows[at] = row++;
  return rows;
};

const valuesOf = (values: Float64Array, reaches: readonly Span[], starts: Int32Array): Float64Array => {
  const found = roomFor(starts[reaches.length]);
  for (let window = 0; window < reaches.length; window++)
    found.set(values.subarray(reaches[window].from, reaches[window].to), starts[window]);
  return found;
};

const leanestShown = (lnShown: Float64Array): number => {
  let most = 0;
  for (let index = 0; index < lnShown.length; index++) if (lnShown[index] > most) most = lnShown[index];
  return Math.exp(most);
};

/** How much the mixture moved over some readings (standard deviation of φ), where the table is known. */
const moveOf = (
  lnFuelled: Float64Array,
  { values, deviations }: ReturnType<Required['at']>,
  rows: Int32Array,
  from: number,
  to: number,
): number => {
  let [sum, square, count] = [0, 0, 0];
  for (let at = from; at < to; at++) {
    const here = lnFuelled[rows[at]];
    if (!(here > -Infinity && deviations[at] < KNOWN_DEVIATION)) continue;
    const limited = Math.max(LEANEST_PHI, Math.exp(here) / values[at]);
    sum += limited;
    square += limited ** 2;
    count++;
  }
  return count > (to - from) / 2 ? Math.sqrt(Math.max(0, square / count - (sum / count) ** 2)) : 0;
};
