// Gathers what a reader notices: alike troubles in neighbouring rows become one problem, and past a handful of them only a count is kept.

import type { Problem } from './problem.js';
import type { Range } from './range.js';

export type Facts = Record<string, string | number | boolean | readonly string[] | readonly number[]>;

/** Alike troubles in neighbouring rows; the range is found when the reading is done. Column −1 stands for the whole row. */
export interface Run {
  readonly code: Problem['code'];
  readonly kind: string;
  readonly column: number;
  readonly fromSample: number;
  toSample: number;
  count: number;
  readonly facts: Facts;
}

/** Problems of one kind that get a place of their own, in one column and in the file. */
const KEPT_PER_COLUMN = 3;
const KEPT_PER_KIND = 5;

interface Tally {
  kept: number;
  runs: number;
  count: number;
}

export class ProblemBook {
  /** Problems with a range already. */
  readonly placed: Problem[] = [];
  private readonly kept: Run[] = [];
  private readonly latest = new Map<string, Run>();
  private readonly ofColumn = new Map<string, number>();
  private readonly ofKind = new Map<string, Tally>();

  /** A copy that goes its own way. */
  fork(): ProblemBook {
    return Object.assign(Object.create(ProblemBook.prototype) as ProblemBook, structuredClone({ ...this }));
  }

  /** One more trouble in a cell or row; joins the run before it where that was of the same kind, in the same column, in the row before. */
  note(code: Problem['code'], kind: string, column: number, sample: number, facts: () => Facts): void {
    const kindKey = `${code} ${kind}`;
    const columnKey = `${kindKey} ${column}`;
    let tally = this.ofKind.get(kindKey);
    if (!tally) this.ofKind.set(kindKey, (tally = { kept: 0, runs: 0, count: 0 }));
    tally.count++;
    const run = this.latest.get(columnKey);
    // What is told late (a message that never ended) may stand before the run's end, or before its beginning.
    if (run && sample >= run.fromSample && sample - run.toSample <= 1) {
      run.count++;
      run.toSample = Math.max(run.toSample, sample);
      return;
    }
    tally.runs++;
    const fresh: Run = { code, kind, column, fromSample: sample, toSample: sample, count: 1, facts: facts() };
    this.latest.set(columnKey, fresh);
    const keptInColumn = this.ofColumn.get(columnKey) ?? 0;
    if (keptInColumn >= KEPT_PER_COLUMN || tally.kept >= KEPT_PER_KIND) return;
    this.ofColumn.set(columnKey, keptInColumn + 1);
    tally.kept++;
    this.kept.push(fresh);
  }

  /** A problem whose place is known at once. */
  place(
    code: Problem['code'],
    kind: string,
    range: Range,
    data: Facts,
    more: { readonly count?: number; readonly channel?: string; readonly timeS?: readonly [number, number] } = {},
  ): void {
    this.placed.push({
      code,
      kind,
      range,
      count: more.count ?? 1,
      ...(more.channel === undefined ? {} : { channel: more.channel }),
      ...(more.timeS ? { timeS: more.timeS } : {}),
      data,
    });
  }

  /** The kept runs. The last of a kind carries `moreRuns` and `moreCount`: what was only counted. */
  runs(): readonly Run[] {
    for (const [key, tally] of this.ofKind) {
      const kept = this.kept.filter((run) => `${run.code} ${run.kind}` === key);
      const last = kept[kept.length - 1];
      if (!last || kept.length === tally.runs) continue;
      last.facts.moreRuns = tally.runs - kept.length;
      last.facts.moreCount = tally.count - kept.reduce((sum, run) => sum + run.count, 0);
    }
    return this.kept;
  }
}
