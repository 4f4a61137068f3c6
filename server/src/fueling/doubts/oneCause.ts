// Whether nearly all proven cells ask for the same change: then one thing is off for the whole engine, and hardly the table.

import type { Evidence } from '../evidence.js';
import { medianByPlace } from '../../formats/median.js';
import { GASOLINE_SCALE_AFR, type Fuel } from '../../quantities/fuels.js';

/** So few may agree by chance. Common practice, no source. */
const LEAST_CELLS = 6;
/** What the interval of a firm cell may reach: so many cells that are off by more, to one side, are no chance. */
const LEAST_SHARE = 0.02;
/** About the same: within this, or a third of the change where that is more. What two cells differ by when each is off by its own doubt. */
const ALIKE = 0.015,
  ALIKE_SHARE = 1 / 3;
const NEARLY_ALL = 0.9;

/** The change that nearly all proven cells want: `factor` is the middle one of theirs, `cells` of the `proven` ones are about there. */
export interface OneCause {
  readonly factor: number;
  readonly cells: number;
  readonly proven: number;
}

/**
 * Undefined where proven cells are few, are near their targets, or want different changes; also where all of them lie in one row or column
 * of a larger table.
 */
export const oneCause = ({ cells }: Pick<Evidence, 'cells'>): OneCause | undefined => {
  const firm = cells.filter(({ proof }) => proof === 'firm');
  if (firm.length < LEAST_CELLS) return undefined;
  const spans = (axis: 'row' | 'column'): boolean =>
    cells.every((cell) => cell[axis] === 0) || firm.some((cell) => cell[axis] !== firm[0][axis]);
  if (!spans('row') || !spans('column')) return undefined;
  const lnFactor = medianByPlace(Float64Array.from(firm, ({ factor }) => Math.log(factor)));
  if (Math.abs(lnFactor) < LEAST_SHARE) return undefined;
  const alike = firm.filter(({ factor }) => isAlike({ factor: Math.exp(lnFactor) }, factor)).length;
  return alike >= NEARLY_ALL * firm.length ? { factor: Math.exp(lnFactor), cells: alike, proven: firm.length } : undefined;
};

/** Whether a cell wants about that. */
export const isAlike = (one: Pick<OneCause, 'factor'>, factor: number): boolean =>
  Math.abs(Math.log(factor / one.factor)) <= Math.max(ALIKE, ALIKE_SHARE * Math.abs(Math.log(one.factor)));

/** A factor this near to the ratio of two scales (logarithm) is likely that ratio. */
const SAME_RATIO = 0.012;
/** Scales nearer to each other than this are not told apart by it. */
const LEAST_RATIO = 0.03;

/** Whether the factor is what the tank's air-fuel ratio is to gasoline's, or the other way round. */
export const isRatioOfScales = (factor: number, fuel: Fuel | undefined): boolean => {
  const ratio = fuel === undefined ? 0 : Math.abs(Math.log(fuel.stoichAfr / GASOLINE_SCALE_AFR));
  return ratio >= LEAST_RATIO && Math.abs(Math.abs(Math.log(factor)) - ratio) < SAME_RATIO;
};

/**
 * That the factor is what the tank's air-fuel ratio is to gasoline's, or the other way round: so much a lambda is off that is shown on the
 * other scale.
 */
const scaleWords = (factor: number, fuel: Fuel | undefined): string =>
  isRatioOfScales(factor, fuel)
    ? ` It is what ${fuel!.name}'s air-fuel ratio (${fuel!.stoichAfr.toFixed(1)}) is to gasoline's (${GASOLINE_SCALE_AFR}): see first on which scale the sensor's display and the tune count.`
    : '';

/** `43 of 45 proven cells want about the same, 6.8 % more fuel: …`; `fuel` is the vehicle's. */
export const oneCauseWords = (one: OneCause, fuel?: Fuel): string =>
  `${wantedWords(one)}: that is rather one cause for the whole engine than a table wrong everywhere. ` +
  `Before the table is changed, check fuel pressure, the injectors' size and dead time, the fuel in the tank against what the tune takes it for, the sensors by which the computer reckons the air (its temperature and the coolant's, manifold pressure, the meter, and above all for a table over throttle the air pressure of the place), and the lambda sensor's calibration${one.factor > 1 ? ' and an exhaust leak ahead of it' : ''}.${scaleWords(one.factor, fuel)}`;

/** In a line. */
export const oneCauseTitle = (one: OneCause): string =>
  `${wantedWords(one)}: rather one cause (fuel pressure, injectors, fuel, a sensor) than the table`;

const wantedWords = ({ factor, cells, proven }: OneCause): string =>
  `${cells} of ${proven} proven cells want about the same, ${Math.abs(100 * (factor - 1)).toFixed(1)} % ${factor > 1 ? 'more' : 'less'} fuel`;
