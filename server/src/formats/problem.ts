// What a reader noticed while reading: facts with a place, turned into findings by the rules. Readers never throw and never judge.

import type { Range } from './range.js';

/** One kind of trouble at one place; a run of alike troubles is one problem whose `count` says how many. */
export interface Problem {
  /** A finding code of the contract; the rule of that name words it. */
  readonly code:
    | 'value-not-a-number'
    | 'row-ragged'
    | 'header-duplicate'
    | 'unit-unknown'
    | 'channel-missing'
    | 'time-reversed'
    | 'time-gap'
    | 'time-repeated'
    | 'axis-not-monotonic'
    | 'value-implausible'
    | 'vehicle-invalid'
    | 'file-missing';
  /** Which of the code's cases it is, for the rule's wording: `cut-off`, `too-few`, `assumed`, … Each rule lists its own. */
  readonly kind: string;
  readonly range: Range;
  readonly count: number;
  /** Header of the channel it is about, where it is about one. */
  readonly channel?: string;
  /** Seconds from the session's start, where it has a time. */
  readonly timeS?: readonly [from: number, to: number];
  /** Facts for the message: texts as found, numbers with the unit in their name. */
  readonly data: Readonly<Record<string, string | number | boolean | readonly string[] | readonly number[]>>;
}
