// Cells that stand by themselves: where a cell's own readings place it elsewhere than smoothness does, as a value that was once edited alone, smoothness lets it go.

/**
 * The two must differ by so many deviations. Readings alone are right either way, smoothness only where the table's errors are smooth: then the variance of the
 * difference is the difference of the variances (Hausman 1978, from memory).
 */
const APART_DEVIATIONS = 3;
/** Only a cell that readings alone tell to this (standard deviation of ln) says so. */
const KNOWN_DEVIATION = 0.02;
/** What is left of the precision that ties a cell that stands alone to its neighbours: a tenth in deviations. */
export const TIE_LEFT = 0.01;

export interface Told {
  /** ln of the departure from the table, and its standard deviation, each cell. */
  readonly x: Float64Array;
  readonly deviation: Float64Array;
}

/** Marks the cells that stand alone; a cell once marked stays so, as it is no longer held to anything. Returns whether any is new. */
export const markLone = (byReadings: Told, smoothed: Told, lone: Uint8Array): boolean => {
  let any = false;
  for (let k = 0; k < lone.length; k++) {
    if (lone[k] || !(byReadings.deviation[k] < KNOWN_DEVIATION)) continue;
    const variance = byReadings.deviation[k] ** 2 - smoothed.deviation[k] ** 2;
    if (!((byReadings.x[k] - smoothed.x[k]) ** 2 > APART_DEVIATIONS ** 2 * variance)) continue;
    lone[k] = 1;
    any = true;
  }
  return any;
};
