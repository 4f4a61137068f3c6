// What the reader noticed, put into problems: the clock, the header, lines that are no rows.

import type { ProblemBook } from '../problemBook.js';
import type { ColumnPlan } from './describe.js';
import type { Clock } from './clock.js';
import type { Layout } from './header.js';
import type { LaidTime } from './time.js';
import type { Read } from '../csv/readRows.js';
import type { Rows } from '../csv/rows.js';
import { range, rangeOver, type Range } from '../range.js';

/** From this share on repeated rows are copies. */
const COPIES_SHARE = 0.95;

/**
 * Says what the clock did: steps back, holes, repeats; `place` gives the clock's cell at a sample, `isCopy` tells whether a row says what
 * the one before says, and `isBehindLeftOut` whether rows before it were left out.
 */
export const sayTime = (
  time: LaidTime,
  header: string,
  book: ProblemBook,
  place: (sample: number) => Range,
  isCopy: (sample: number) => boolean = () => false,
  isBehindLeftOut: (sample: number) => boolean = () => false,
): void => {
  const { timeS } = time;
  const channel = header;
  if (time.reversalCount > 2 && 2 * time.reversalCount > timeS.length) {
    const [{ sample }] = time.reversals;
    book.place(
      'time-reversed',
      'backward',
      place(sample),
      { rows: timeS.length, steps: time.reversalCount },
      { channel, timeS: [timeS[sample], timeS[sample]] },
    );
    return;
  }
  time.reversals.forEach((event, index) => {
    const last = index === time.reversals.length - 1;
    book.place(
      'time-reversed',
      'step-back',
      place(event.sample),
      { fromS: event.fromS, toS: event.toS, moreCount: last ? time.reversalCount - time.reversals.length : 0 },
      { channel, timeS: [timeS[event.sample], timeS[event.sample]] },
    );
  });
  const gaps = time.gaps.filter(({ sample }) => !isBehindLeftOut(sample));
  gaps.forEach((event, index) => {
    const last = index === gaps.length - 1;
    const span = rangeOver(place(event.sample - 1), place(event.sample));
    book.place(
      'time-gap',
      'gap',
      span,
      { gapS: event.toS - event.fromS, stepS: time.medianStepS, moreCount: last ? time.gapCount - time.gaps.length : 0 },
      { timeS: [event.fromS, event.toS] },
    );
  });
  const { repeats } = time;
  if (repeats.count === 0) return;
  const copies = repeats.some.filter(isCopy).length >= COPIES_SHARE * repeats.some.length;
  if (time.spread) {
    book.place(
      'time-repeated',
      'spread',
      place(repeats.first),
      { rows: timeS.length, repeated: repeats.count, stepS: time.medianStepS, copies },
      { channel, count: repeats.count, timeS: [0, timeS[timeS.length - 1]] },
    );
    return;
  }
  const told = repeats.runs.reduce((sum, run) => sum + run.to - run.from + 1, 0);
  repeats.runs.forEach((run, index) => {
    const span = rangeOver(place(run.from), place(run.to));
    book.place(
      'time-repeated',
      'repeated',
      span,
      { moreCount: index === repeats.runs.length - 1 ? repeats.count - told : 0, copies },
      { channel, count: run.to - run.from + 1, timeS: [timeS[run.from], timeS[run.to]] },
    );
  });
};

/** Says what stands at lines rather than at cells: rows cut off, endless lines, quotes that never close. */
export const sayLines = (
  read: Read,
  { turned }: Pick<Rows, 'turned'>,
  layout: Layout,
  book: ProblemBook,
  rowRange: (sample: number) => Range,
): void => {
  const { cutOff, longLines, openQuotes } = read;
  if (cutOff)
    book.place('row-ragged', 'cut-off', cutOff.sample === undefined ? range(cutOff.line, 0, cutOff.line + 1, 0) : rowRange(cutOff.sample), {
      cells: cutOff.cells,
      expected: layout.header.length,
    });
  if (turned) book.place('header-duplicate', 'turned', range(turned.line, 0, turned.line + 1, 0), { rows: turned.rows });
  if (longLines.length > 0)
    book.place('row-ragged', 'too-long', range(longLines[0], 0, longLines[0] + 1, 0), {}, { count: longLines.length });
  if (openQuotes.length > 0)
    book.place(
      'value-not-a-number',
      'quote-unclosed',
      range(openQuotes[0].line, 0, openQuotes[0].line + 1, 0),
      {},
      { count: openQuotes.length },
    );
  if (layout.columnsLeftOut > 0)
    book.place('row-ragged', 'too-many-columns', layout.headerRange, { kept: layout.header.length, leftOut: layout.columnsLeftOut });
};

const MOST_DUPLICATES = 5;

/** Says doubled names, names that were guessed at, and that nothing is named at all. */
export const sayHeader = (plans: readonly ColumnPlan[], layout: Layout, clock: Clock | undefined, book: ProblemBook): void => {
  if (layout.headless) {
    book.place('channel-missing', 'no-header', layout.headerRange, { columns: plans.length });
    return;
  }
  const seen = new Map<string, ColumnPlan>();
  let duplicates = 0;
  for (const plan of plans) {
    const key = plan.header.toLowerCase();
    const before = seen.get(key);
    if (!before) {
      seen.set(key, plan);
      continue;
    }
    if (duplicates++ < MOST_DUPLICATES)
      book.place(
        'header-duplicate',
        'same-name',
        plan.headerRange,
        { name: plan.header, firstColumn: before.column + 1, column: plan.column + 1 },
        { channel: plan.header },
      );
  }
  for (const plan of plans.filter((each) => each.quantityFrom === 'guess').slice(0, MOST_DUPLICATES)) {
    book.place(
      'channel-missing',
      'name-guessed',
      plan.headerRange,
      { name: plan.name, quantity: plan.quantity ?? '', clock: plan.column === clock?.column },
      { channel: plan.header },
    );
  }
};
