// What proven cells have in common that a table wrong in places does not: one bank that differs from the other, one change for all, a
// change that begins at the barometer, one that a rail without its hose makes, one that fades with air flow or with the fuel of an
// injection, or one that grows with the air through the meter.

import type { Axis, Table } from '../../formats/table/table.js';
import { medianByPlace } from '../../formats/median.js';
import type { Fuel } from '../../quantities/fuels.js';
import type { CellEvidence, Evidence } from '../evidence.js';
import { banksTitle, differingBanks, type Banks } from './banksDiffer.js';
import { isAlike, oneCause, oneCauseTitle, oneCauseWords, type OneCause } from './oneCause.js';
import { steadyFlow, steadyShare, type SteadyFlow } from './steadyFlow.js';

export type CommonCause =
  | { readonly kind: 'whole-engine'; readonly one: OneCause }
  | { readonly kind: 'banks'; readonly banks: Banks }
  /** More fuel is wanted above the air around the car, up to `most` (factor), and none below. */
  | { readonly kind: 'above-barometer'; readonly most: number }
  /**
   * Too much fuel in vacuum and too little in boost, from `least` to `most` (factors), as where the rail holds `railKPa` over the air and
   * not over the manifold.
   */
  | { readonly kind: 'fixed-rail'; readonly least: number; readonly most: number; readonly railKPa: number }
  /** Of one sign, and fading as one over the air flow, or over the fuel of an injection. */
  | { readonly kind: 'steady-flow'; readonly steady: SteadyFlow }
  /** Of a transfer curve from `least` to `most` (factors), the further the more air. */
  | { readonly kind: 'meter'; readonly least: number; readonly most: number };

/** Undefined where they have nothing of the kind in common. */
export const commonCause = (table: Table, evidence: Pick<Evidence, 'cells' | 'bankSpread'>): CommonCause | undefined => {
  const firm = evidence.cells.filter(({ proof }) => proof === 'firm'),
    banks = differingBanks(firm, table.columns.canonical.length, evidence),
    ofBanks = banks && ({ kind: 'banks', banks } as const);
  // A few cells in which banks differ hide nothing that all of them share.
  if (banks && 2 * banks.cells > banks.proven) return ofBanks;
  const found = steadyFlow(table, firm),
    rail = railCause(table, firm),
    // Over a few rows both laws fall alike: the nearer one is told.
    steady = found && !(found.isPerStroke && rail && rail.off <= found.off) ? found : undefined,
    one = steady ? undefined : oneCause(evidence);
  if (steady) return { kind: 'steady-flow', steady };
  if (one) return { kind: 'whole-engine', one };
  return meterCause(table, firm) ?? rail?.cause ?? boostCause(table, firm) ?? ofBanks;
};

/**
 * What a cell wants for the cause at least, ln, to be its (half of the least that is told), and the share of its own want from which it is.
 * No source.
 */
const OWN_LEAST = 0.005,
  OWN_SHARE = 0.5;

/** Whether a cause makes a cell want what it wants, so that it is no word of the table; `banks` are told cell by cell (`banksDiffer`). */
export const isOfCause = (cause: CommonCause, { columns, rows }: Table, cell: CellEvidence): boolean => {
  const ln = Math.log(cell.factor);
  switch (cause.kind) {
    case 'banks':
      return false;
    case 'whole-engine':
      return isAlike(cause.one, cell.factor);
    case 'above-barometer':
      return ln > 0 && (rows.quantity === 'manifold-pressure' ? rows.canonical[cell.row] : columns.canonical[cell.column]) > OPEN_UP_TO_KPA;
    case 'fixed-rail':
    case 'meter':
      return true;
    case 'steady-flow': {
      const share = steadyShare(cause.steady, cell);
      return ln * share > 0 && (Math.abs(share) >= 2 * OWN_LEAST || (Math.abs(share) >= OWN_LEAST && share / ln > OWN_SHARE));
    }
  }
};

/** What is promised of a firm cell: less is not told from nothing. */
const LEAST_SHARE = 0.03;
/** Near enough to the target to be right. */
const RIGHT_SHARE = 0.02;
const LEAST_CELLS = 3;

/** A transfer curve whose cells want the more the more air passes. */
const meterCause = ({ quantity, columns, rows }: Table, firm: readonly CellEvidence[]): CommonCause | undefined => {
  const axis = rows.canonical.length === 1 ? columns : rows,
    along = axis === columns ? 'column' : 'row';
  if (quantity !== 'mass-air-flow' || (columns.canonical.length > 1 && rows.canonical.length > 1) || firm.length < LEAST_CELLS + 1)
    return undefined;
  const byAir = [...firm].sort((a, b) => axis.canonical[a[along]] - axis.canonical[b[along]]),
    factors = byAir.map(({ factor }) => factor);
  const least = factors[0],
    most = factors[factors.length - 1],
    isSteady = factors.every((factor, at) => at === 0 || Math.log(factor / factors[at - 1]) * Math.sign(most - least) > -RIGHT_SHARE / 2);
  return isSteady && Math.abs(Math.log(most / least)) > LEAST_SHARE && Math.abs(Math.log(most)) > LEAST_SHARE
    ? { kind: 'meter', least, most }
    : undefined;
};

/** Rows of manifold pressure from which an engine is surely above, and up to which surely not above, the air around the car, kPa. */
const BOOSTED_FROM_KPA = 108,
  OPEN_UP_TO_KPA = 98;

/**
 * The air around the car where only the table is known, kPa; what one unseen share of the boost comes to by two rows differs by so much at
 * most (a per cent of doubt in a row of 115 kPa is a tenth of it). No source.
 */
const AIR_KPA = 100,
  ONE_SHARE = 1.3;

/** The boost that is there over the boost that is shown, less 1, where the engine draws `factor` times what is shown. */
const unseenShare = (kPa: number, factor: number): number => (factor * kPa - AIR_KPA) / (kPa - AIR_KPA) - 1;

/** Cells of a row of manifold pressure, the middle of what they want. */
interface Level {
  readonly kPa: number;
  readonly factor: number;
}

const levelsOf = (firm: readonly CellEvidence[], kPaOf: (cell: CellEvidence) => number): Level[] =>
  [...new Set(firm.map(kPaOf))]
    .sort((one, other) => one - other)
    .map((kPa) => ({
      kPa,
      factor: medianByPlace(
        Float64Array.from(
          firm.filter((cell) => kPaOf(cell) === kPa),
          ({ factor }) => factor,
        ),
      ),
    }));

/**
 * Rails of port injection, kPa over the air; how far the levels must reach, and how much the law must make of that to be told from chance.
 */
const RAIL_KPA: readonly [low: number, high: number] = [200, 600],
  LEAST_LEVELS = 4,
  LEAST_REACH_KPA = 60,
  LEAST_LAW = 0.06;

/**
 * Orifice law: fuel goes with √Δp, and over the injectors of a rail that holds its pressure over the air Δp falls as the manifold rises. So
 * 1 / factor² falls along a straight line, and is 1 at the air around the car. Over too few rows the law is no cause yet.
 */
const railCause = (
  { columns, rows }: Table,
  firm: readonly CellEvidence[],
): { readonly cause: CommonCause | undefined; readonly off: number } | undefined => {
  const [axis, along]: [Axis, 'row' | 'column'] = rows.quantity === 'manifold-pressure' ? [rows, 'row'] : [columns, 'column'];
  if (axis.quantity !== 'manifold-pressure') return undefined;
  const levels = levelsOf(firm, (cell) => axis.canonical[cell[along]]),
    lowest = levels[0],
    highest = levels[levels.length - 1];
  if (levels.length < LEAST_LEVELS) return undefined;
  const meanKPa = levels.reduce((sum, { kPa }) => sum + kPa, 0) / levels.length,
    share = ({ factor }: Level): number => 1 / factor ** 2,
    meanShare = levels.reduce((sum, level) => sum + share(level), 0) / levels.length;
  const slope =
      levels.reduce((sum, level) => sum + (level.kPa - meanKPa) * share(level), 0) /
      levels.reduce((sum, { kPa }) => sum + (kPa - meanKPa) ** 2, 0),
    railKPa = -1 / slope;
  const lawAt = (kPa: number): number => 1 / Math.sqrt(meanShare + slope * (kPa - meanKPa));
  const isLaw =
    levels.every(({ kPa, factor }) => Math.abs(Math.log(factor / lawAt(kPa))) < RIGHT_SHARE) &&
    Math.abs(Math.log(lawAt(AIR_KPA))) < RIGHT_SHARE;
  const isTold = highest.kPa - lowest.kPa >= LEAST_REACH_KPA && Math.log(highest.factor / lowest.factor) > LEAST_LAW;
  return isLaw && railKPa >= RAIL_KPA[0] && railKPa <= RAIL_KPA[1]
    ? {
        cause: isTold ? { kind: 'fixed-rail', least: lowest.factor, most: highest.factor, railKPa } : undefined,
        off: firm.reduce((sum, cell) => sum + Math.abs(Math.log(cell.factor / lawAt(axis.canonical[cell[along]]))), 0) / firm.length,
      }
    : undefined;
};

/**
 * Right up to the air around the car, and short above it as where one and the same share of the boost is not seen: a table made for another
 * engine is short otherwise.
 */
const boostCause = ({ columns, rows }: Table, firm: readonly CellEvidence[]): CommonCause | undefined => {
  const [axis, along]: [Axis, 'row' | 'column'] = rows.quantity === 'manifold-pressure' ? [rows, 'row'] : [columns, 'column'];
  if (axis.quantity !== 'manifold-pressure') return undefined;
  const kPaOf = (cell: CellEvidence): number => axis.canonical[cell[along]];
  const below = firm.filter((cell) => kPaOf(cell) <= OPEN_UP_TO_KPA),
    above = firm.filter((cell) => kPaOf(cell) >= BOOSTED_FROM_KPA);
  if (below.length < LEAST_CELLS || above.length < LEAST_CELLS) return undefined;
  const levels = levelsOf(above, kPaOf);
  const shares = levels.map(({ kPa, factor }) => unseenShare(kPa, factor)),
    isOneShare = levels.length > 1 && Math.max(...shares) < ONE_SHARE * Math.min(...shares);
  const isRight = below.every(({ factor }) => Math.abs(Math.log(factor)) < RIGHT_SHARE),
    isShort = above.every(({ factor }) => Math.log(factor) > LEAST_SHARE);
  return isRight && isShort && isOneShare ? { kind: 'above-barometer', most: levels[levels.length - 1].factor } : undefined;
};

/** How much of a change it makes the cell want that it tells most in, per cent. */
export const causePercent = (cause: CommonCause): number => {
  switch (cause.kind) {
    case 'banks':
      return 100 * Math.abs(cause.banks.factor - 1);
    case 'whole-engine':
      return 100 * Math.abs(cause.one.factor - 1);
    case 'above-barometer':
      return 100 * (cause.most - 1);
    case 'steady-flow':
      return 100 * Math.abs(Math.exp(cause.steady.most) - 1);
    case 'fixed-rail':
    case 'meter':
      return 100 * Math.max(Math.abs(cause.least - 1), Math.abs(cause.most - 1));
  }
};

const percent = (factor: number): string => `${factor > 1 ? '+' : '−'}${Math.abs(100 * (factor - 1)).toFixed(1)} %`;

/** In a line. */
export const commonCauseTitle = (cause: CommonCause): string => {
  switch (cause.kind) {
    case 'banks':
      return banksTitle(cause.banks);
    case 'whole-engine':
      return oneCauseTitle(cause.one);
    case 'above-barometer':
      return `Right up to the air around the car, and short above it as where a part of the boost is not seen (up to ${percent(cause.most)}): rather manifold pressure that reads low than the table`;
    case 'fixed-rail':
      return `From ${percent(cause.least)} in vacuum to ${percent(cause.most)} at the most pressure, as where the fuel's pressure does not follow the manifold's (a rail of about ${(Math.round(cause.railKPa / 10) * 10).toFixed(0)} kPa): rather the regulator than the table`;
    case 'steady-flow': {
      const rich = cause.steady.most < 0;
      if (cause.steady.isPerStroke)
        return `${percent(Math.exp(cause.steady.most))} where the least is injected, and fading as one over that at any speed, as where each injection is off by the same: rather the injectors' dead time, or manifold pressure that reads ${rich ? 'high' : 'low'} by the same, than the table`;
      return `${percent(Math.exp(cause.steady.most))} where the least air flows, and fading as one over the flow, as where ${rich ? 'fuel that nothing meters' : 'air'} gets in at all times: rather ${rich ? 'the purge valve, an injector or the regulator that leaks' : 'a leak into the exhaust ahead of the lambda sensor, or of the intake,'} than the table`;
    }
    case 'meter':
      return `The further off the more air passes (${percent(cause.least)} to ${percent(cause.most)}): rather the air meter than its curve`;
  }
};

/** What it is and what to check before the table is changed; `fuel` is the vehicle's. */
export const commonCauseWords = (cause: CommonCause, fuel?: Fuel): string => {
  switch (cause.kind) {
    case 'banks':
      return `${commonCauseTitle(cause)}. Before the table is changed, change the two sensors over, then look at injectors, plugs and joints of one side.`;
    case 'whole-engine':
      return oneCauseWords(cause.one, fuel);
    case 'above-barometer':
      return `${commonCauseTitle(cause)}. Before the table is changed, hold manifold pressure against a gauge under boost: its hose, a leak or a valve in it, or the sensor may show too little of it; then see that fuel pressure rises with boost.`;
    case 'fixed-rail':
      return `${commonCauseTitle(cause)}. Before the table is changed, look at the regulator's hose to the manifold (some rails are made without): a table corrected without it gives too little in vacuum once it is on.`;
    case 'steady-flow':
      return `${commonCauseTitle(cause)}. Before the table is changed, ${cause.steady.isPerStroke ? "hold the computer's dead time against the injectors' data at this fuel pressure and battery voltage, and manifold pressure, engine off, against the air's" : cause.steady.most < 0 ? "clamp the purge hose and log idle again, then look for fuel in the regulator's hose and at the injectors" : 'look at the exhaust joints up to the sensor with the engine cold, then at the intake behind the meter and the purge valve'}.`;
    case 'meter':
      return `${commonCauseTitle(cause)}. Before the curve is changed, look at the meter: a dirty element or a bent grid, air that leaks ${cause.most > 1 ? 'in behind it' : 'out behind it under boost'}, or another housing than the curve is made for; then at fuel pressure under load.`;
  }
};
