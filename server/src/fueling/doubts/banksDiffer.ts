// Where one bank wants other fuel than the other: one table feeds both, and what is right for their mean is right for neither.

import type { CellEvidence, Evidence } from '../evidence.js';
import { medianByPlace } from '../../formats/median.js';

/**
 * Half of it stays on each bank whatever the table holds, and that is what a want of fuel is told from (3 %); injectors and sensors of a
 * sound engine scatter by less. No source.
 */
const APART = 0.06;
const LEAST_CELLS = 3;

type Spread = Pick<Evidence, 'bankSpread'>;

export const banksDiffer = ({ bankSpread }: Spread, at: number): boolean => bankSpread !== undefined && Math.abs(bankSpread[at]) >= APART;

/** What bank 2 wants over bank 1 (factor) in the middle one of the proven cells in which they differ; undefined where those are few. */
export interface Banks {
  readonly factor: number;
  readonly cells: number;
  readonly proven: number;
}

export const differingBanks = (firm: readonly CellEvidence[], width: number, evidence: Spread): Banks | undefined => {
  const apart = Float64Array.from(
    firm.map(({ row, column }) => row * width + column).filter((at) => banksDiffer(evidence, at)),
    (at) => evidence.bankSpread![at],
  );
  const most = medianByPlace(apart),
    cells = apart.filter((each) => each * most > 0).length;
  return cells < LEAST_CELLS ? undefined : { factor: 1 + most, cells, proven: firm.length };
};

/** In a line. */
export const banksTitle = ({ factor, cells, proven }: Banks): string =>
  `Bank 2 wants ${Math.abs(100 * (factor - 1)).toFixed(1)} % ${factor > 1 ? 'more' : 'less'} fuel than bank 1 in ${cells} of ${proven} proven cells: rather something of one bank (an injector, a sensor, a leak) than the table, which feeds both`;
