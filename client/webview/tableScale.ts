// How a cell's number becomes a bar: its length, its side, its step on the scale of colours, and the words that say the same without any of
// them.
// The colours are those of protocol/tableColours.ts. On a dark ground each arm is walked from its dark end, so that the greatest stands out
// there too.

import { FACTOR_STEPS_PERCENT, PU_OR, stepOf, type Step } from '../../server/src/protocol/tableColours.js';
import type { PictureCell, TablePicture } from '../../server/src/protocol/table.js';
import type { TableWords } from '../../server/src/protocol/tableWords.js';
import { fill } from '../../server/src/protocol/traceWords.js';
import { fixed } from './numbers.js';
import type { Shown } from './tableState.js';

export { FACTOR_STEPS_PERCENT, PU_OR, type Step };
export const STEPS: readonly Step[] = [-3, -2, -1, 0, 1, 2, 3];

/** The colour of a step. */
export function colourOf(step: Step, onDark: boolean): string {
  const size = Math.abs(step);
  return PU_OR[step === 0 ? 3 : 3 - Math.sign(step) * (onDark ? 4 - size : size)];
}

/** A cell as it is drawn. */
export interface Mark {
  /** In the cell. */
  readonly text: string;
  /** Length of the bar, −1 to the left to 1 to the right; 0: none. */
  readonly size: number;
  readonly step: Step;
  /** The same for who sees neither bar nor colour. */
  readonly words: string;
}

/** What is known of the whole table before one cell is drawn. */
export interface Around {
  readonly middle: number;
  readonly half: number;
  readonly dutyLimitPercent: number;
}

export function aroundOf({ cells, dutyLimitPercent }: TablePicture): Around {
  const values = cells.flatMap(({ value }) => (value === null ? [] : [value]));
  const low = Math.min(...values),
    high = Math.max(...values);
  return values.length === 0
    ? { middle: 0, half: 1, dutyLimitPercent }
    : { middle: (low + high) / 2, half: (high - low) / 2 || 1, dutyLimitPercent };
}

/** A bar of this many per cent fills its half of the cell. */
const FULL_FACTOR_PERCENT = 12;
/**
 * Half intervals of firm cells end about here (see fueling/judge.ts), and thin ones are of no use at about three times as much, per cent.
 */
const FIRM_WITHIN_PERCENT = 3;
const THIN_WITHIN_PERCENT = 10;
/** So far above the limit a bar of duty is full, points. */
const FULL_OVER_POINTS = 15;

const NOTHING = { size: 0, step: 0 } as const;

export function markOf(cell: PictureCell, shown: Shown, around: Around, words: TableWords): Mark {
  switch (shown) {
    case 'value':
      return valueMark(cell, around, words);
    case 'factor':
      return factorMark(cell, words);
    case 'evidence':
      return evidenceMark(cell, words);
    case 'duty':
      return dutyMark(cell, around, words);
  }
}

function valueMark({ value, text }: PictureCell, { middle, half }: Around, words: TableWords): Mark {
  if (value === null) return { ...NOTHING, text, words: words.blank };
  const size = (value - middle) / half;
  const step = stepOf(size, [0.15, 0.45, 0.75]);
  return { text, size, step, words: step === 0 ? words.middle : step > 0 ? words.high : words.low };
}

function factorMark({ evidence }: PictureCell, words: TableWords): Mark {
  if (!evidence) return { ...NOTHING, text: '', words: words.none };
  const percent = 100 * (evidence.factor - 1);
  const step = stepOf(percent, FACTOR_STEPS_PERCENT);
  return {
    text: `×${fixed(evidence.factor, 2)}`,
    size: clamped(percent / FULL_FACTOR_PERCENT),
    step,
    words: `${step === 0 ? words.onTarget : fill(percent > 0 ? words.short : words.over, fixed(Math.abs(percent), 1))}, ${words[evidence.proof]}`,
  };
}

function evidenceMark({ evidence }: PictureCell, words: TableWords): Mark {
  if (!evidence) return { ...NOTHING, text: '', words: words.none };
  const { proof, factorLow, factorHigh } = evidence;
  const withinPercent = halfPercent(evidence);
  const size =
    proof === 'firm'
      ? Math.max(0.2, 1 - withinPercent / FIRM_WITHIN_PERCENT / 1.25)
      : -Math.max(0.2, clamped(withinPercent / THIN_WITHIN_PERCENT));
  return {
    text: `±${fixed(withinPercent, withinPercent < 9.95 ? 1 : 0)}`,
    size,
    step: stepOf(size, [0, 0.34, 0.67]),
    words: `${words[proof]}, ${fill(words.interval, fixed(factorLow, 3), fixed(factorHigh, 3))}`,
  };
}

function dutyMark({ dutyPercent }: PictureCell, { dutyLimitPercent }: Around, words: TableWords): Mark {
  if (dutyPercent === undefined) return { ...NOTHING, text: '', words: words.dutyNone };
  const over = dutyPercent - dutyLimitPercent;
  const size = over >= 0 ? Math.max(0.15, clamped(over / FULL_OVER_POINTS)) : over / dutyLimitPercent;
  return {
    text: fixed(dutyPercent, 0),
    size,
    step: stepOf(size, over >= 0 ? [0, 0.34, 0.67] : [0.1, 0.34, 0.67]),
    words: `${fill(words.dutyAt, fixed(dutyPercent, 0))}, ${fill(over >= 0 ? words.dutyOver : words.dutyRoom, dutyLimitPercent)}`,
  };
}

/** Half of the 95 % interval, per cent of the value. */
export const halfPercent = ({ factorLow, factorHigh }: { readonly factorLow: number; readonly factorHigh: number }): number =>
  50 * (factorHigh - factorLow);

const clamped = (size: number): number => Math.min(1, Math.max(-1, size));

/** What the two sides mean, in words beside the scale. */
export function legendWords(shown: Shown, { middle, dutyLimitPercent }: Around, words: TableWords): string {
  switch (shown) {
    case 'value':
      return fill(words.legendValue, Number(middle.toPrecision(4)));
    case 'factor':
      return words.legendFactor;
    case 'evidence':
      return words.legendEvidence;
    case 'duty':
      return fill(words.legendDuty, dutyLimitPercent);
  }
}
