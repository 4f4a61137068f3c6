// Two logs of one drive on one clock: the best match of a channel that both have, with offset and drift, and a refusal where it is poor or
// could be another.

import type { QuantityId } from '../../quantities/quantity.js';
import { QUANTITIES } from '../../quantities/quantity.js';
import type { Session } from '../../formats/session/session.js';
import { candidatesOf, APART_S, type ClockLine } from './candidates.js';
import { fitClock, type ClockFit } from './fitClock.js';
import { changesOf, onGrid, seriesOf, type Series } from './series.js';

export interface ClockMatch extends ClockFit {
  readonly quantity: QuantityId;
}

/** Why two logs are not brought onto one clock, in plain words that follow "… cannot be joined: ". */
export interface NoMatch {
  readonly refused: string;
}

/** Channels that tell the moment, the most telling first. */
const TELLING: readonly QuantityId[] = ['engine-speed', 'throttle', 'pedal', 'manifold-pressure', 'mass-air-flow', 'vehicle-speed'];

/**
 * A match worse than this is no match. Two sensors of one engine speed, a reading a second, still agree to 0.97; common practice, no
 * source.
 */
export const LEAST_MATCH = 0.9;
/** Both logs ran together for no less than this, seconds. */
const LEAST_OVERLAP_S = 12;
/**
 * Windows of the log stand off the common clock by no more than this, seconds: a quarter of what the mixture needs to settle, twice over.
 */
const MOST_RESIDUAL_S = 0.25;
/** Another place is a rival if it leaves no more than this many times as much unexplained (plus a little). */
const RIVAL_SHARE = 3;
const RIVAL_LEAST = 0.01;
/** … if as many windows (this share) speak for it, and it has this share of the overlap. */
const RIVAL_SCORE = 0.65;
const RIVAL_OVERLAP = 0.3;
const CANDIDATES = 8;
/** Both are averaged over this or over the slower one's step to look for the place, seconds. */
const AVERAGED_S = 0.3;
const LONGEST_GRID = 1 << 18;

/** The clock of `second` on that of `first`: time there = offsetS + (1 + drift) × time in `second`, both from their session's start. */
export function matchClocks(first: Session, second: Session): ClockMatch | NoMatch {
  for (const [session, which] of [
    [first, 'first'],
    [second, 'second'],
  ] as const) {
    if (session.recordingStarts.length > 1)
      return {
        refused: `the clock of the ${which} steps back, so it holds ${session.recordingStarts.length} recordings; cut it into one file each`,
      };
    if (session.time.kind !== 'column') return { refused: `the ${which} has no time column` };
  }
  const channelIn = (session: Session, quantity: QuantityId) =>
    session.channels.find((each) => each.quantity === quantity && each.filled > 1);
  const shared = TELLING.filter((quantity) => channelIn(first, quantity) && channelIn(second, quantity));
  if (shared.length === 0)
    return {
      refused:
        'they have no channel in common that tells the moment (engine speed, throttle, pedal, manifold pressure, air flow, road speed)',
    };
  let refusal: NoMatch | undefined;
  for (const quantity of shared) {
    const match = matchSeries(
      seriesOf(channelIn(first, quantity)!, first.timeS),
      seriesOf(channelIn(second, quantity)!, second.timeS),
      QUANTITIES[quantity].title,
    );
    if (!('refused' in match)) return { ...match, quantity };
    refusal ??= match;
  }
  return refusal!;
}

/** `name`: of the channel, for the words of a refusal. */
export function matchSeries(first: Series, second: Series, name: string): ClockFit | NoMatch {
  const lengthS = ({ timeS }: Series): number => (timeS.length < 2 ? 0 : timeS[timeS.length - 1] - timeS[0]);
  const shortestS = Math.min(lengthS(first), lengthS(second));
  if (shortestS < LEAST_OVERLAP_S)
    return { refused: `one has only ${shortestS.toFixed(1)} s of ${name} (at least ${LEAST_OVERLAP_S} s are wanted)` };
  const coarsestS = Math.max(first.stepS, second.stepS);
  const stepS = Math.max(0.1, coarsestS / 4, Math.max(lengthS(first), lengthS(second)) / LONGEST_GRID);
  const changes = (series: Series): Float64Array => changesOf(onGrid(series, stepS, Math.max(AVERAGED_S, coarsestS)));
  // The shorter one is looked for in the longer one.
  const turned = lengthS(second) > lengthS(first);
  const [long, short] = turned ? [second, first] : [first, second];
  const found = candidatesOf(changes(long), changes(short), stepS, CANDIDATES).map(({ score, offsetS, drift }) => ({
    score,
    line: inOrder({ offsetS: offsetS + long.timeS[0] - (1 + drift) * short.timeS[0], drift }, turned),
  }));
  const fits = found.flatMap(({ score, line }) => {
    const fit = fitClock(first, second, line);
    return fit && fit.overlapS >= LEAST_OVERLAP_S && fit.correlation > 0 ? [{ score, fit }] : [];
  });
  const longestOverlapS = Math.max(0, ...fits.map(({ fit }) => fit.overlapS));
  const standing = fits.filter(({ fit }) => fit.overlapS >= RIVAL_OVERLAP * longestOverlapS);
  if (standing.length === 0) return { refused: `nowhere does ${name} of the one go along with that of the other` };
  const best = standing.reduce((a, b) => (b.fit.correlation > a.fit.correlation ? b : a));
  const { fit } = best;
  if (!(fit.correlation >= LEAST_MATCH)) {
    return {
      refused: `${name} matches poorly even at the best place (correlation ${fit.correlation.toFixed(2)}, at least ${LEAST_MATCH.toFixed(2)} is wanted): are they of the same drive?`,
    };
  }
  const middleS = second.timeS[second.timeS.length >> 1];
  const apartS = (other: ClockLine): number => other.offsetS - fit.offsetS + (other.drift - fit.drift) * middleS;
  const rival = standing.find(
    (other) =>
      other !== best &&
      Math.abs(apartS(other.fit)) > APART_S &&
      other.score >= RIVAL_SCORE * best.score &&
      1 - other.fit.correlation ** 2 <= RIVAL_SHARE * (1 - fit.correlation ** 2) + RIVAL_LEAST,
  );
  if (rival) {
    return {
      refused: `${name} matches as well ${Math.abs(apartS(rival.fit)).toFixed(1)} s ${apartS(rival.fit) > 0 ? 'later' : 'earlier'} (correlation ${rival.fit.correlation.toFixed(3)} against ${fit.correlation.toFixed(3)}), so the moment is not certain: a drive that repeats itself less is wanted`,
    };
  }
  if (!(fit.offsetDeviationS <= MOST_RESIDUAL_S))
    return { refused: `${name} is too even to tell the moment (certain to ${fit.offsetDeviationS.toFixed(2)} s only)` };
  if (fit.residualS > MOST_RESIDUAL_S)
    return {
      refused: `parts of the log stand off by ${fit.residualS.toFixed(2)} s, at most ${MOST_RESIDUAL_S} s are allowed: one of their clocks does not run evenly, or they are not of the same drive`,
    };
  return fit;
}

/** A line from the short log to the long one as a line from the second to the first. */
const inOrder = ({ offsetS, drift }: ClockLine, turned: boolean): ClockLine =>
  turned ? { offsetS: -offsetS / (1 + drift), drift: 1 / (1 + drift) - 1 } : { offsetS, drift };
