// The middle of numbers: of those in order, and of others by selection, which costs a fraction of sorting them.

/** Median of numbers in rising order, the mean of the middle two where they are even in number; NaN of none. */
export const medianOfSorted = (sorted: Float64Array): number => {
  const half = sorted.length >> 1;
  return sorted.length === 0 ? NaN : sorted.length % 2 === 1 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
};

/**
 * The number that would stand at `place` were they sorted, NaN last; reorders them so that none before it is greater (Hoare's selection).
 */
export const selected = (numbers: Float64Array, place: number): number => {
  let count = 0;
  for (let at = 0; at < numbers.length; at++) {
    const value = numbers[at];
    if (value !== value) continue;
    numbers[at] = numbers[count];
    numbers[count++] = value;
  }
  return place < count ? chosen(numbers, place, count - 1) : NaN;
};

/**
 * From so many numbers on, the one that they are parted by is the one that would stand there among some of them: halves of which most is
 * left are the rarer.
 * It is never one of those at the ends: of numbers in order these part off hardly any.
 */
const MANY = 250,
  FROM_END = 2;
const some = new Float64Array(47);

const chosen = (numbers: Float64Array, place: number, last: number): number => {
  let [low, high] = [0, last];
  while (low < high) {
    const pivot = high - low > MANY ? amongSome(numbers, place, low, high) : numbers[(low + high) >> 1];
    let [from, to] = [low, high];
    while (from <= to) {
      while (numbers[from] < pivot) from++;
      while (numbers[to] > pivot) to--;
      if (from > to) break;
      const value = numbers[from];
      numbers[from++] = numbers[to];
      numbers[to--] = value;
    }
    if (place <= to) high = to;
    else if (place >= from) low = from;
    else break;
  }
  return numbers[place];
};

const amongSome = (numbers: Float64Array, place: number, low: number, high: number): number => {
  const last = some.length - 1,
    stride = Math.floor((high - low) / last);
  for (let at = 0; at <= last; at++) some[at] = numbers[low + at * stride];
  return chosen(some, Math.max(FROM_END, Math.min(last - FROM_END, Math.round(((place - low) / (high - low)) * last))), last);
};

/** Median of numbers, as `medianOfSorted` would give it; reorders them. NaN of none; missing ones count as the greatest. */
export const medianByPlace = (numbers: Float64Array): number => {
  const half = numbers.length >> 1;
  const upper = selected(numbers, half);
  if (numbers.length % 2 === 1 || numbers.length === 0) return upper;
  let lower = -Infinity;
  for (let at = 0; at < half; at++) if (!(numbers[at] <= lower)) lower = numbers[at];
  return (lower + upper) / 2;
};
