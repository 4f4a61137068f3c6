// How far each observation is believed: by how far it stands from what all the others say of its place, and how well they know it.

/** Tukey's biweight: beyond this many deviations a block does not count. 95 % efficient on the normal. */
const TUKEY = 4.685;
/** Huber's: within so many deviations a block counts whole. 95 % efficient on the normal. */
const HUBER = 1.345;
/** An observation that alone tells its place agrees with itself: this much of its place at most is its own. */
const MOST_OWN = 0.999;

/**
 * Fills `trust`, 0 … 1, from what is left of each observation (`residual`) and its variance (`own` × `inflation`). `gentle`: Huber's
 * weight, which has one minimum; Tukey's then drops what is plainly something else. `fit`: what each weighed in the solution, and the
 * solution's variance there. By it an observation is held to the solution without it (deleted residuals; Cook and Weisberg 1982, from
 * memory): where nothing else tells of a place but smoothness, a reading does not contradict it by being another.
 */
export const believe = (
  residual: Float64Array,
  own: Float64Array,
  inflation: Float64Array,
  gentle: boolean,
  trust: Float64Array,
  fit: { readonly weight: Float64Array; readonly fitted: Float64Array } | undefined,
): void => {
  for (let at = 0; at < trust.length; at++) {
    let variance = own[at] * inflation[at];
    if (fit) {
      const byOthers = 1 - Math.min(MOST_OWN, fit.weight[at] * fit.fitted[at]);
      variance = byOthers * (byOthers * variance + fit.fitted[at]);
    }
    const away = Math.abs(residual[at]) / Math.sqrt(variance);
    trust[at] = gentle ? Math.min(1, HUBER / Math.max(away, 1e-9)) : away < TUKEY ? (1 - (away / TUKEY) ** 2) ** 2 : 0;
  }
};
