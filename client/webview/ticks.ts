// Round numbers along an axis.

import { fixed } from './numbers.js';

/** Multiples of 1, 2 or 5 times a power of ten within a range, about `count` of them, in the fewest decimals that tell them apart. */
export function ticks(from: number, to: number, count: number): { readonly at: number; readonly text: string }[] {
  if (!(from < to) || !(count >= 1)) return [];
  const rough = (to - from) / count;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((times) => times * power).find((each) => each >= rough * 0.999)!;
  const decimals = Math.min(10, Math.max(0, -Math.floor(Math.log10(step) + 1e-9)));
  const first = Math.ceil(from / step - 1e-9),
    last = Math.floor(to / step + 1e-9);
  return Array.from({ length: Math.max(0, last - first + 1) }, (_, k) => {
    const at = (first + k) * step;
    return { at, text: fixed(Math.abs(at) < step / 2 ? 0 : at, decimals) };
  });
}
