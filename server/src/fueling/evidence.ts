// What the sessions prove about a table, cell by cell: the result that findings, hovers, `weigh` and corrections read.

import type { Distress } from '../signals/distress.js';
import type { Held } from './doubts/gate.js';
import type { Missing } from './doubts/missing.js';

export type Proof = 'firm' | 'thin' | 'none';

/**
 * Readings near a cell, about a second of them: the session by its index, the sample there; how much fuel the table gave them over what it
 * would give now.
 */
export interface Moment {
  readonly session: number;
  readonly sample: number;
  readonly lambda: number;
  readonly targetLambda: number;
  readonly loggedOverNow: number;
  readonly timeS: number;
  readonly line: number;
}

export interface CellEvidence {
  readonly row: number;
  readonly column: number;
  /** The table's value now, as written. */
  readonly value: number;
  readonly samples: number;
  readonly effectiveSamples: number;
  readonly seconds: number;
  /** Weighted means over the cell's samples, what was measured as it would be with the table's values now; NaN without any. */
  readonly measuredLambda: number;
  readonly targetLambda: number;
  /**
   * How much fuel the table gave on the whole where the cell was measured, over what it would give now: 1 where no session was logged with
   * other values.
   */
  readonly loggedOverNow: number;
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
  readonly moments: readonly Moment[];
}

/** Why samples were not evidence, with how many. */
export type LeftOut =
  | 'transient'
  | 'overrun'
  | 'cold-engine'
  | 'sensor-fault'
  | 'engine-off'
  | 'no-target'
  | 'no-lambda'
  | 'after-fuel-cut'
  | 'launch'
  | 'outside-axes'
  | 'delay-unproven'
  | 'columns-not-logged'
  | 'rows-not-logged'
  | 'sensor-mount'
  | 'closed-loop-unknown'
  | 'same-readings'
  | Missing
  | Distress;

/** A delay as one log tells it: its parts (`PhysicalDelay`), and how sure they are. */
export interface DelayFit {
  readonly cycles: number;
  readonly gasG: number;
  /** What was assumed of `gasG` before the log spoke. */
  readonly assumedGasG: number;
  readonly lagS: number;
  readonly latencyS: number;
  /** Of cycles, ln gas, ln lag and latency, row by row. */
  readonly covariance: readonly number[];
  /** How far all readings may be shifted alike by where they fall between the log's rows, s (standard deviation). */
  readonly rowS: number;
  /** What the log calls the sensor: its column's header. */
  readonly sensor: string;
  /** Exhaust flow (g/s) and engine speed at the middle of what was driven, and the speed at each point of `byFlow`. */
  readonly flowGPerS: number;
  readonly rpm: number;
  readonly rpmAt: readonly number[];
}

export interface SessionWeight {
  readonly session: string;
  readonly samples: number;
  readonly used: number;
  readonly leftOut: Readonly<Partial<Record<LeftOut, number>>>;
  readonly transportDelay: {
    readonly estimated: boolean;
    readonly medianS: number;
    readonly byFlow: readonly (readonly [flowGPerS: number, seconds: number])[];
    /** `log`: estimated; `assumed`: the log does not tell, a stated model stands in. */
    readonly from: 'log' | 'vehicle.json' | 'assumed';
    /** Standard deviation of `medianS`. */
    readonly deviationS: number;
    /** What the log tells of the delay's parts, where it tells them: by it a car's sessions are taken together. */
    readonly fit?: DelayFit;
    /** Told by the car's other sessions too (`delaysOfCar`). */
    readonly byCar?: true;
  };
  /** How far the running engine went above the greatest breakpoints, in the canonical unit of the axis; nothing where it stayed on them. */
  readonly beyond?: Readonly<Partial<Record<'columns' | 'rows', number>>>;
  /** What had to be taken for granted, in plain words. */
  readonly assumed: readonly string[];
  /** The table this session was logged with; undefined is the table as it is now. */
  readonly loggedWith?: string;
  /** Headers of columns that are not recognised, and so were not looked at. */
  readonly unread?: readonly string[];
  /** Why less may be concluded from it than its readings say. */
  readonly doubts?: readonly SessionDoubt[];
}

/**
 * `trim-unread`: columns that are not recognised look like fuel trims, which may hold the mixture where it stands. `gauges-apart`: two
 * gauges of one bank differ steadily. `loop-apart`: the gauge reads rich of λ 1 while the computer's own loop holds that. `air-dead`: the
 * intake air's sensor stands at its cold end, and the computer fuels by it. `trims-turned`: the trims move against lambda, so their sign is
 * turned round. `speed-off`: the engine speed that lays each reading to a column is twice the true one, or half. `open-loop-trim`: a
 * long-term trim takes fuel away at full load, where many computers show it and do without it.
 */
export interface SessionDoubt {
  readonly kind: (typeof SESSION_DOUBTS)[number];
  readonly channels: readonly string[];
}

export const SESSION_DOUBTS = [
  'trim-unread',
  'gauges-apart',
  'loop-apart',
  'air-dead',
  'speed-off',
  'trims-turned',
  'open-loop-trim',
] as const;

export interface Evidence {
  readonly sessions: readonly SessionWeight[];
  /** Every cell of the table, row by row. */
  readonly cells: readonly CellEvidence[];
  /** What bank 2 wants over bank 1, trims and lambda together, minus one, per cell where two were logged. */
  readonly bankSpread?: Float64Array;
  /** Cells that no correction touches whatever is proven, and why, by index. */
  readonly held?: ReadonlyMap<number, Held>;
  /** Where sessions contradict each other; undefined where they do nowhere. */
  readonly contradiction?: Contradiction;
  /** Cells in which a session contradicts itself, its first half the second, by index; undefined where none does. */
  readonly drift?: ReadonlyMap<number, SessionDrift>;
  /** Why nothing of the table may be corrected, in words that follow its name. */
  readonly refused?: string;
}

/**
 * What a cell must be multiplied by according to a session's first half and its second, or (`isByTurns`) to two kinds of its passages;
 * `session` is its index.
 */
export interface SessionDrift {
  readonly session: number;
  readonly early: number;
  readonly late: number;
  readonly isByTurns?: boolean;
}

/** What sessions that contradict each other say. */
export interface Contradiction {
  /** By index; none of them is firm. */
  readonly cells: ReadonlySet<number>;
  /** The cell in which they do most surely. */
  readonly surest: number;
  /** What each session that was near a cell says by itself, by its index in `sessions`. */
  said(cell: number): readonly { readonly session: number; readonly factor: number }[];
}
