// The middle of numbers in order: the median that clocks and channels share. Evidence, which asks for more of them, selects instead of sorting.

/** Median of numbers in rising order, the mean of the middle two where they are even in number; NaN of none. */
export const medianOfSorted = (sorted: Float64Array): number => {
  const half = sorted.length >> 1;
  return sorted.length === 0 ? NaN : sorted.length % 2 === 1 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
};
