// How lines are told apart besides their colours.

/** Drawn and left free by turns, CSS pixels; empty is solid. */
export type Dash = readonly number[];

/** Of a lane's lines over time: solid, dashed, dotted, dash-dot, long. */
const LINES: readonly Dash[] = [[], [7, 4], [2, 3], [9, 3, 2, 3], [14, 4]];
export const lineDash = (line: number): Dash => LINES[line % LINES.length];

const SHORT: Dash = [7, 4],
  LONG: Dash = [16, 4];
const DOT: Dash = [2, 3],
  DOTS_APART: Dash = [2, 8],
  STROKE: Dash = [5, 3];
/** Of runs that share a colour: each time the colours begin anew, the next. */
const RUNS: readonly (readonly Dash[])[] = [[], [SHORT], [LONG], [LONG, SHORT], [LONG, SHORT, SHORT], [LONG, LONG, SHORT]];
export const RUN_ROUNDS = RUNS.length;

/**
 * The line of a run over others. `round`: how often the colours have begun anew before it; `down`: the engine slows down in it, and its
 * line is of dots;
 * `channel`: the place in a lane of several channels, which adds that many dots (to dots, strokes).
 */
export function runDash(round: number, down: boolean, channel: number): Dash {
  const dashes = RUNS[round % RUNS.length];
  const more = (sign: Dash): number[] => Array.from({ length: channel }, () => sign).flat();
  if (!down) return [...(dashes.length === 0 && channel > 0 ? [12, 3] : dashes.flat()), ...more(DOT)];
  return [
    ...(dashes.length === 0 ? DOT : dashes.flatMap((dash) => (dash === LONG ? [...DOT, ...DOTS_APART] : DOTS_APART))),
    ...more(STROKE),
  ];
}
