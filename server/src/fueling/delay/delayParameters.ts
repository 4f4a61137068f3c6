// What is fitted to tell the delay, each with what is assumed before the log speaks: the delay's own parts, and what else moves the
// mixture.

import { ASSUMED_DELAY, ASSUMED_DEVIATION, type DelayModel, type PhysicalDelay } from './delayModel.js';
import { FILLING_DEVIATION, MANIFOLD_CYCLES } from './manifold.js';

interface Parameter {
  readonly assumed: number;
  /** How far the assumed figure may be off (standard deviation). Orders of magnitude, no source where none is named. */
  readonly deviation: number;
  readonly least: number;
  readonly most: number;
}

const share = (assumed: number, deviation: number, most: number, least = 0): Parameter => ({ assumed, deviation, least, most });
const ln = (assumed: number, deviation: number, least = 0, most = Infinity): Parameter => ({
  assumed: Math.log(assumed),
  deviation,
  least: Math.log(least),
  most: Math.log(most),
});

/** The order in which the fit holds them. The first four are the delay itself: `Delay.covariance` is of these. */
export const NAMES = [
  'cycles',
  'lnGasG',
  'lnLagS',
  'latencyS',
  'stirred',
  'filmShare',
  'lnFilmStaysS',
  'aheadCycles',
  'vapour',
  'manifoldCycles',
  'openedShare',
  'lnOpenedStaysS',
] as const;
type Name = (typeof NAMES)[number];

const ALL: Readonly<Record<Name, Parameter>> = {
  cycles: { assumed: ASSUMED_DELAY.cycles, deviation: ASSUMED_DEVIATION[0], least: 0.3, most: 2.5 },
  lnGasG: ln(ASSUMED_DELAY.gasG, ASSUMED_DEVIATION[1]),
  lnLagS: ln(ASSUMED_DELAY.lagS, ASSUMED_DEVIATION[2], 0.003, 0.5),
  latencyS: { assumed: ASSUMED_DELAY.latencyS, deviation: ASSUMED_DEVIATION[3], least: 0, most: 0.1 },
  stirred: share(ASSUMED_DELAY.stirred, 0.15, 0.8),
  // Share of the fuel that first wets the wall, and how long it stays (Aquino's film, as Guzzella and Onder have it; from memory).
  filmShare: share(0.1, 0.15, 1, -1),
  lnFilmStaysS: ln(0.4, 0.5),
  // Injected into the port before the intake opens, the fuel meets the charge taken in until the intake shuts, and the pressure sensor is a
  // little late; a controller that foresees all of it injects no time ahead.
  aheadCycles: share(0.4, 0.2, 1),
  // Of the fuel that flowed before a cut, what goes on leaving the wall: the film's whole share, whatever the controller makes up for.
  vapour: share(0.2, 0.1, 0.7),
  // One to two displacements, of which a cycle takes four fifths; none where the controller foresees the filling.
  manifoldCycles: share(MANIFOLD_CYCLES, FILLING_DEVIATION * MANIFOLD_CYCLES, 4, 0.01),
  // What a controller adds as the throttle opens, ahead of the charge: a tenth to a half more fuel where it is thrown open, for some engine
  // cycles. Common practice.
  openedShare: share(0.1, 0.3, 2),
  lnOpenedStaysS: ln(0.2, 0.5, 0.03, 1),
};

export const PARAMETERS: readonly Parameter[] = NAMES.map((name) => ALL[name]);
export const PARTS = PARAMETERS.length;
export const AT = Object.fromEntries(NAMES.map((name, at) => [name, at])) as Readonly<Record<Name, number>>;
/**
 * Of one kind, as all that a fit comes to: a list's kind goes with what stands in it, and what is compiled for one kind is thrown away when
 * another comes.
 */
export const ASSUMED = Float64Array.from(PARAMETERS, ({ assumed }) => assumed);

/** The same where a car's own delay is assumed. */
export const assumedOf = (model: DelayModel): Float64Array => {
  const assumed = ASSUMED.slice();
  if (model.kind === 'physical') assumed[AT.lnGasG] = Math.log(model.gasG);
  return assumed;
};

export const physical = (parameters: Float64Array): PhysicalDelay => ({
  kind: 'physical',
  cycles: parameters[AT.cycles],
  gasG: Math.exp(parameters[AT.lnGasG]),
  stirred: parameters[AT.stirred],
  lagS: Math.exp(parameters[AT.lnLagS]),
  latencyS: parameters[AT.latencyS],
});
