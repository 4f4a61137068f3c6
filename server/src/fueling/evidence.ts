// What the sessions prove about a table, cell by cell: the result that findings, hovers, `weigh` and corrections read.

import type { Distress } from '../signals/distress.js';
import type { Held } from './gate.js';

export type Proof = 'firm' | 'thin' | 'none';

export interface CellEvidence {
  readonly row: number;
  readonly column: number;
  /** The table's value now, as written. */
  readonly value: number;
  readonly samples: number;
  readonly effectiveSamples: number;
  readonly seconds: number;
  /** Weighted means over the cell's samples; NaN without any. */
  readonly measuredLambda: number;
  readonly targetLambda: number;
  /** Share of fuel that the trims added in its samples, mean: 0.09 is 9 % more; NaN without any, about 0 where no trim is logged. */
  readonly trimmed: number;
  /** What the value must be multiplied by to reach the target; NaN where `proof` is `none`. */
  readonly factor: number;
  readonly factorLow: number;
  readonly factorHigh: number;
  readonly proof: Proof;
  readonly suggested: number;
  /** Mean manifold pressure (kPa) of the samples here; NaN where not logged. For severity by load. */
  readonly manifoldPressureKPa: number;
  /** The most telling moments, worst first: session by its index in `sessions`, sample there. */
  readonly moments: readonly { readonly session: number; readonly sample: number; readonly lambda: number; readonly timeS: number; readonly line: number }[];
}

/** Why samples were not evidence, with how many. */
export type LeftOut =
  | 'transient' | 'overrun' | 'cold-engine' | 'sensor-fault' | 'engine-off' | 'no-target' | 'no-lambda' | 'after-fuel-cut' | 'outside-axes' | 'delay-unproven'
  | 'sensor-mount' | 'closed-loop-unknown' | 'same-readings' | Distress;

export interface SessionWeight {
  readonly session: string;
  readonly samples: number;
  readonly used: number;
  readonly leftOut: Readonly<Partial<Record<LeftOut, number>>>;
  readonly transportDelay: {
    readonly estimated: boolean; readonly medianS: number; readonly byFlow: readonly (readonly [flowGPerS: number, seconds: number])[];
    /** `log`: estimated; `assumed`: the log does not tell, a stated model stands in. */
    readonly from: 'log' | 'vehicle.json' | 'assumed';
    /** Standard deviation of `medianS`. */
    readonly deviationS: number;
  };
  /** What had to be taken for granted, in plain words. */
  readonly assumed: readonly string[];
  /** The table this session was logged with; undefined is the table as it is now. */
  readonly loggedWith?: string;
}

export interface Evidence {
  readonly sessions: readonly SessionWeight[];
  /** Every cell of the table, row by row. */
  readonly cells: readonly CellEvidence[];
  /** Spread between banks, λ of bank 2 over bank 1 minus one, per cell where two were logged. */
  readonly bankSpread?: Float64Array;
  /** Cells that no correction touches whatever is proven, and why, by index. */
  readonly held?: ReadonlyMap<number, Held>;
  /** Why nothing of the table may be corrected, in words that follow its name. */
  readonly refused?: string;
}
