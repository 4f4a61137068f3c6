// Problems as a reader collects them: alike ones beyond a handful are counted instead of listed, so that a broken file stays readable.

import type { Problem } from './problem.js';

type Counted = Omit<Problem, 'count'> & { count: number };

/** Of one code and kind, each has its own place up to this many; the rest are counted in the last. */
const MOST_ALIKE = 40;

/** Collects problems; `add` takes what differs and counts 1. */
export class ProblemList {
  private readonly list: Counted[] = [];
  private readonly seen = new Map<string, { last: Counted; count: number }>();

  add(problem: Omit<Problem, 'count' | 'data'> & { readonly data?: Problem['data'] }): void {
    if (this.onlyCounts(problem.code, problem.kind)) return;
    const key = `${problem.code} ${problem.kind}`,
      last = { ...problem, count: 1, data: problem.data ?? {} };
    this.seen.set(key, { last, count: (this.seen.get(key)?.count ?? 0) + 1 });
    this.list.push(last);
  }

  /** Counts one more of a kind that has its places, and says so; of a broken table of 512 × 512 the places alone would take seconds. */
  onlyCounts(code: Problem['code'], kind: string): boolean {
    const alike = this.seen.get(`${code} ${kind}`),
      isFull = alike !== undefined && alike.count >= MOST_ALIKE;
    if (isFull) alike.last.count++;
    return isFull;
  }

  get all(): readonly Problem[] {
    return this.list;
  }
}
