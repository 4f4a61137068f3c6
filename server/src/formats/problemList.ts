// Problems as a reader collects them: alike ones beyond a handful are counted instead of listed, so that a broken file stays readable.

import type { Problem } from './problem.js';

/** Of one code and kind, each has its own place up to this many; the rest are counted in the last. */
const MOST_ALIKE = 40;

/** Collects problems; `add` takes what differs and counts 1. */
export class ProblemList {
  private readonly list: Problem[] = [];
  private readonly seen = new Map<string, { last: number; count: number }>();

  add(problem: Omit<Problem, 'count' | 'data'> & { readonly data?: Problem['data'] }): void {
    const key = `${problem.code} ${problem.kind}`;
    const alike = this.seen.get(key);
    if (alike && alike.count >= MOST_ALIKE) {
      const last = this.list[alike.last];
      this.list[alike.last] = { ...last, count: last.count + 1 };
      return;
    }
    this.seen.set(key, { last: this.list.length, count: (alike?.count ?? 0) + 1 });
    this.list.push({ ...problem, count: 1, data: problem.data ?? {} });
  }

  get all(): readonly Problem[] { return this.list; }
}
