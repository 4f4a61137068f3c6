// Where one log may lie beside another: windows of the one looked for in the other by cross-correlation, and the straight clock lines that
// most of them agree on.

import FFT from 'fft.js';

/** A clock line: time in the first log = offsetS + (1 + drift) × time in the second. */
export interface ClockLine {
  readonly offsetS: number;
  readonly drift: number;
}

export interface Candidate extends ClockLine {
  /** Sum of squared correlations of the windows on it. */ readonly score: number;
}

/** Windows are this long: shorter ones are found in too many places, over longer ones a drift smears. */
const WINDOW_S = 60;
const MOST_WINDOWS = 60;
/** Places that are kept of each window. */
const PLACES = 6;
/** A window that correlates less nowhere speaks. */
const LEAST_CORRELATION = 0.5;
/** Loggers that count nominal steps are off by up to this; a crystal by a hundredth of it. Common practice, no source. */
export const MOST_DRIFT = 0.01;
/** Windows lie on a line when they are this near to it. */
const NEAR_S = 0.5;
/** Lines this far apart in the middle of the log are two. */
export const APART_S = 1.5;
/** A window with less unrest than this share of the liveliest one's has nothing to be known by. */
const LEAST_UNREST = 0.02;

interface Found {
  readonly window: number;
  readonly middleS: number;
  readonly shiftS: number;
  readonly weight: number;
}

/**
 * Lines, the best first, each apart from those before it. `first`, `second`: changes on a grid of `stepS`; times count from the grids'
 * starts.
 */
export function candidatesOf(first: Float64Array, second: Float64Array, stepS: number, most: number): Candidate[] {
  const found = windowsFound(first, second, stepS);
  const middleS = (second.length * stepS) / 2;
  const at = (line: ClockLine): number => line.offsetS + line.drift * middleS;
  const lines: Candidate[] = [];
  for (const [index, one] of found.entries()) {
    lines.push(scored({ offsetS: one.shiftS, drift: 0 }, found));
    for (let other = index + 1; other < found.length; other++) {
      const spanS = found[other].middleS - one.middleS;
      if (spanS < WINDOW_S) continue;
      const drift = (found[other].shiftS - one.shiftS) / spanS;
      if (Math.abs(drift) <= MOST_DRIFT) lines.push(scored({ offsetS: one.shiftS - drift * one.middleS, drift }, found));
    }
  }
  lines.sort((a, b) => b.score - a.score);
  const kept: Candidate[] = [];
  for (const line of lines) {
    if (kept.length >= most) break;
    if (kept.every((other) => Math.abs(at(other) - at(line)) > APART_S)) kept.push(line);
  }
  return kept;
}

function scored(line: ClockLine, found: readonly Found[]): Candidate {
  let score = 0;
  let best = 0;
  for (let at = 0; at < found.length; at++) {
    const { window, middleS, shiftS, weight } = found[at];
    if (at > 0 && found[at - 1].window !== window) {
      score += best;
      best = 0;
    }
    if (weight > best && Math.abs(line.offsetS + line.drift * middleS - shiftS) <= NEAR_S) best = weight;
  }
  return { ...line, score: score + best };
}

function windowsFound(first: Float64Array, second: Float64Array, stepS: number): Found[] {
  const length = Math.min(second.length, first.length, Math.max(Math.round(WINDOW_S / stepS), 8));
  const hop = Math.max(1, Math.round(Math.max(length / 2, (second.length - length) / MOST_WINDOWS)));
  const correlate = correlatorOf(first, length);
  const starts: number[] = [];
  for (let start = 0; start + length <= second.length; start += hop) starts.push(start);
  const unrest = starts.map((start) => energy(second.subarray(start, start + length)));
  const most = unrest.reduce((a, b) => Math.max(a, b), 0);
  return starts.flatMap((start, window) => {
    if (!(unrest[window] > LEAST_UNREST * most)) return [];
    const middleS = (start + length / 2) * stepS;
    return peaksOf(correlate(second.subarray(start, start + length), unrest[window]), Math.ceil(APART_S / stepS)).map(
      ({ lag, height }) => ({ window, middleS, shiftS: (lag - start) * stepS, weight: height * height }),
    );
  });
}

const energy = (values: Float64Array): number => values.reduce((sum, value) => sum + value * value, 0);

/** Correlation of a window with every stretch of `signal`, from one that only its end meets (lag −length + 1) on. */
function correlatorOf(
  signal: Float64Array,
  length: number,
): (window: Float64Array, windowEnergy: number) => { readonly values: Float64Array; readonly firstLag: number } {
  let size = 2;
  while (size < signal.length + length) size *= 2;
  const fft = new FFT(size);
  const spectrumOf = (values: Float64Array): number[] => {
    const padded = new Float64Array(size);
    padded.set(values);
    const spectrum = fft.createComplexArray();
    fft.realTransform(spectrum, padded);
    fft.completeSpectrum(spectrum);
    return spectrum;
  };
  const ofSignal = spectrumOf(signal);
  const sums = new Float64Array(signal.length + 1);
  for (let at = 0; at < signal.length; at++) sums[at + 1] = sums[at] + signal[at] * signal[at];
  const product = fft.createComplexArray();
  const result = fft.createComplexArray();
  return (window, windowEnergy) => {
    const ofWindow = spectrumOf(window);
    for (let at = 0; at < 2 * size; at += 2) {
      product[at] = ofSignal[at] * ofWindow[at] + ofSignal[at + 1] * ofWindow[at + 1];
      product[at + 1] = ofSignal[at + 1] * ofWindow[at] - ofSignal[at] * ofWindow[at + 1];
    }
    fft.inverseTransform(result, product);
    const firstLag = 1 - length;
    const values = Float64Array.from({ length: signal.length - firstLag }, (_, index) => {
      const lag = index + firstLag;
      const here = sums[Math.min(signal.length, lag + length)] - sums[Math.max(0, lag)];
      // A calm stretch is no match however well its noise goes along.
      return result[2 * ((lag + size) % size)] / Math.sqrt(windowEnergy * Math.max(here, windowEnergy / 2));
    });
    return { values, firstLag };
  };
}

/** The highest places, each the highest for `apart` lags round it. */
function peaksOf(
  { values, firstLag }: { readonly values: Float64Array; readonly firstLag: number },
  apart: number,
): { lag: number; height: number }[] {
  const peaks: { lag: number; height: number }[] = [];
  for (let at = 1; at + 1 < values.length; at++) {
    if (values[at] > LEAST_CORRELATION && values[at] >= values[at - 1] && values[at] > values[at + 1])
      peaks.push({ lag: at + firstLag, height: values[at] });
  }
  peaks.sort((a, b) => b.height - a.height);
  const kept: { lag: number; height: number }[] = [];
  for (const peak of peaks) {
    if (kept.length >= PLACES) break;
    if (kept.every((other) => Math.abs(other.lag - peak.lag) >= apart)) kept.push(peak);
  }
  return kept;
}
