// The few statistics that evidence needs: median, spread, autocorrelation, effective samples, Student's t.

import { medianByPlace } from '../../formats/median.js';
import { roomFor } from '../room.js';

/** Median of the numbers, which stay as they are; NaN of none. */
export const medianOf = (numbers: number[] | Float64Array): number => {
  const copy = roomFor(numbers.length);
  copy.set(numbers);
  return medianByPlace(copy);
};

/** Two columns of one length, row by row: the one plus, or less, the other. */
export const sumOf = (values: Float64Array, others: Float64Array, sign: 1 | -1): Float64Array => {
  const sum = roomFor(values.length);
  for (let at = 0; at < sum.length; at++) sum[at] = values[at] + sign * others[at];
  return sum;
};

/** Sum of the products of two columns, as far as the second goes. */
export const dot = (a: ArrayLike<number>, b: ArrayLike<number>): number => {
  let sum = 0;
  for (let i = 0; i < b.length; i++) sum += b[i] * a[i];
  return sum;
};

/** Standard deviation from the median of absolute values (round zero), consistent for the normal: 1.4826 = 1/Φ⁻¹(0.75). */
export const spreadOf = (residuals: number[] | Float64Array): number => {
  const sizes = roomFor(residuals.length);
  for (let at = 0; at < sizes.length; at++) sizes[at] = Math.abs(residuals[at]);
  return spreadBySizes(sizes);
};

/** The same of the absolute values themselves, which it reorders. */
export const spreadBySizes = (sizes: Float64Array): number => 1.4826 * medianByPlace(sizes);

/**
 * How many independent samples n samples with lag-1 autocorrelation r are worth: n (1 − r)/(1 + r), never more than n (Zwiers and von
 * Storch 1995).
 */
export const effectiveSamples = (n: number, r: number): number => (n * (1 - Math.max(0, r))) / (1 + Math.max(0, r));

/** Lag-1 autocorrelation Σ d(t) d(t+1) / Σ d(t)² round the mean (Wilks); 0 where nothing varies. */
export const autocorrelation = (numbers: ArrayLike<number>): number => {
  let mean = 0;
  for (let at = 0; at < numbers.length; at++) mean += numbers[at] / numbers.length;
  let [product, square] = [0, 0];
  for (let at = 0; at < numbers.length; at++) {
    square += (numbers[at] - mean) ** 2;
    if (at > 0) product += (numbers[at] - mean) * (numbers[at - 1] - mean);
  }
  return square > 0 ? product / square : 0;
};

/** ln Γ(x), x > 0, by Stirling's series after shifting x above 10 (Abramowitz and Stegun 6.1.41). */
const logGamma = (x: number): number => {
  let shift = 0;
  while (x < 10) shift += Math.log(x++);
  const inverse = 1 / x;
  const series = inverse * (1 / 12 - inverse ** 2 * (1 / 360 - inverse ** 2 * (1 / 1260 - inverse ** 2 / 1680)));
  return (x - 0.5) * Math.log(x) - x + 0.5 * Math.log(2 * Math.PI) + series - shift;
};

/** Kept off nought, as Lentz's method asks. */
const guard = (value: number): number => (Math.abs(value) < 1e-300 ? 1e-300 : value);

/** Regularised incomplete beta I_x(a, b), by its continued fraction (Abramowitz and Stegun 26.5.8), evaluated by Lentz's method. */
const incompleteBeta = (x: number, a: number, b: number): number => {
  if (x <= 0) return 0;
  if (x >= 1) return 1;
  if (x > (a + 1) / (a + b + 2)) return 1 - incompleteBeta(1 - x, b, a);
  let c = 1;
  let d = 1 / guard(1 - ((a + b) * x) / (a + 1));
  let fraction = d;
  for (let m = 1; m < 500; m++) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m));
    d = 1 / guard(1 + even * d);
    c = guard(1 + even / c);
    fraction *= d * c;
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1 / guard(1 + odd * d);
    c = guard(1 + odd / c);
    const step = d * c;
    fraction *= step;
    if (Math.abs(step - 1) < 1e-15) break;
  }
  return (Math.exp(a * Math.log(x) + b * Math.log(1 - x) + logGamma(a + b) - logGamma(a) - logGamma(b)) * fraction) / a;
};

/** Share of a normal distribution beyond ± z deviations, z ≥ 0, to 2e-7 (Hastings; Abramowitz and Stegun 7.1.26). */
const twoSided = (z: number): number => {
  const t = 1 / (1 + (0.3275911 * z) / Math.SQRT2);
  return t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429)))) * Math.exp((-z * z) / 2);
};

/**
 * How many of these differ from nought by more than chance; `sizes`: deviations, the greatest first. Of sixty that do not, three would at
 * 95 % each: of those named one in twenty may by chance (Benjamini and Hochberg 1995).
 */
export const beyondChance = (sizes: readonly number[]): number => {
  let named = sizes.length;
  while (named > 0 && !(twoSided(sizes[named - 1]) <= (0.05 * named) / sizes.length)) named--;
  return named;
};

/** Two-sided 95 % point of Student's t for any positive degrees of freedom; infinite at none or fewer. */
export const studentT95 = (degreesOfFreedom: number): number => {
  if (!(degreesOfFreedom > 0)) return Infinity;
  if (degreesOfFreedom > 1e6) return 1.959963985;
  const half = degreesOfFreedom / 2;
  // Newton's method on the share outside ± t, whose slope is twice the density; held between bounds that only close in.
  const lnDensity = logGamma(half + 0.5) - logGamma(half) - 0.5 * Math.log(Math.PI * degreesOfFreedom);
  let [low, high] = [1.9, Infinity];
  // From the first terms of its expansion in one over the degrees (Abramowitz and Stegun 26.7.5) it is a step or two.
  let t = 1.96 + (2.3722 + (2.8225 + 2.5559 / degreesOfFreedom) / degreesOfFreedom) / degreesOfFreedom;
  for (let step = 0; step < 100; step++) {
    const tooMuch = incompleteBeta(degreesOfFreedom / (degreesOfFreedom + t * t), half, 0.5) - 0.05;
    if (tooMuch > 0) low = t;
    else high = t;
    const next = t + tooMuch / (2 * Math.exp(lnDensity - (half + 0.5) * Math.log1p((t * t) / degreesOfFreedom)));
    const kept = next > low && next < high ? next : high === Infinity ? 2 * t : (low + high) / 2;
    if (Math.abs(kept - t) <= 1e-13 * t) return kept;
    t = kept;
  }
  return t;
};

/**
 * 95 % interval of a mean from its samples' spread and effective number; infinite where one effective sample or fewer leaves nothing to
 * judge by.
 */
export const meanInterval95 = (mean: number, deviation: number, effective: number): readonly [low: number, high: number] => {
  const half = effective > 1 ? (studentT95(effective - 1) * deviation) / Math.sqrt(effective) : Infinity;
  return [mean - half, mean + half];
};
