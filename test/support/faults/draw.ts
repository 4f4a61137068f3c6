// One bench case a seed: a recording from one of the three sources, healthy or with up to four faults planted.

import { drawDrive } from './drawnDrive.js';
import { emptyDropout, frozenDropout, fullScaleDropout, openCircuitDropout, zeroDropout } from './dropouts.js';
import {
  coolantHot,
  exhaustLeak,
  fuelPressureFalls,
  injectorDuty,
  intakeHot,
  knock,
  leanSlight,
  leanWithoutPressure,
  leanWithPressure,
  misfire,
} from './engineFaults.js';
import {
  afrGasolineScale,
  afrNamedFuel,
  afrTrueUnderPlain,
  airFlowClipped,
  lambdaOutputTooNarrow,
  pressureSensorTooSmall,
  stuckChannel,
  wrongUnit,
} from './longFaults.js';
import type { Planter } from './places.js';
import { seeded } from './random.js';
import { realDrives } from './realDrive.js';
import type { Recording } from './recording.js';
import { simulateHealthy } from './simulatedDrive.js';
import { simulateFadingPump, simulateMisfire } from './simulatedTrouble.js';
import { timeHole, timeRepeated, timeStepBack } from './timeFaults.js';
import { behindCatalyst, troubleCodes } from './toldFaults.js';
import type { QuantityId } from '../../../server/src/quantities/quantity.js';

interface Kind {
  readonly plant: Planter;
  readonly needs?: readonly QuantityId[];
  readonly without?: readonly QuantityId[];
  readonly boosted?: boolean;
  readonly times?: number;
}

/** Faults that take the whole recording: planted first and alone, but for what goes beside anything. */
const ALONE: readonly Kind[] = [
  { plant: pressureSensorTooSmall, needs: ['manifold-pressure'], boosted: true },
  { plant: lambdaOutputTooNarrow, needs: ['manifold-pressure', 'throttle'] },
  { plant: airFlowClipped, needs: ['mass-air-flow'] },
  { plant: wrongUnit, needs: ['manifold-pressure', 'coolant-temperature', 'intake-air-temperature'] },
  { plant: wrongUnit, needs: ['manifold-pressure', 'coolant-temperature'] },
  { plant: afrNamedFuel, needs: ['target-lambda'] },
  { plant: afrTrueUnderPlain },
  { plant: afrGasolineScale },
  { plant: exhaustLeak, needs: ['target-lambda', 'short-term-fuel-trim', 'manifold-pressure'] },
  { plant: behindCatalyst },
];

/** Faults of a spell: a few of them in a recording, apart from each other. */
const SPELLS: readonly Kind[] = [
  { plant: emptyDropout },
  { plant: zeroDropout },
  { plant: zeroDropout },
  { plant: frozenDropout },
  { plant: frozenDropout },
  { plant: fullScaleDropout },
  { plant: openCircuitDropout, needs: ['manifold-pressure'] },
  { plant: stuckChannel, needs: ['manifold-pressure', 'throttle', 'vehicle-speed'] },
  { plant: stuckChannel, needs: ['manifold-pressure', 'throttle'] },
  { plant: timeHole },
  { plant: timeStepBack },
  { plant: timeRepeated },
  { plant: leanWithPressure, needs: ['target-lambda', 'fuel-pressure', 'manifold-pressure'] },
  { plant: leanWithoutPressure, needs: ['target-lambda'], without: ['fuel-pressure'] },
  { plant: leanWithoutPressure, needs: ['manifold-pressure'], without: ['fuel-pressure', 'target-lambda'], boosted: true },
  { plant: leanSlight, needs: ['target-lambda', 'manifold-pressure'] },
  { plant: fuelPressureFalls, needs: ['fuel-pressure', 'manifold-pressure'] },
  { plant: knock, needs: ['knock-retard'] },
  { plant: injectorDuty, needs: ['injector-duty'] },
  { plant: injectorDuty, needs: ['injector-pulse-width'], without: ['injector-duty'] },
  { plant: intakeHot, needs: ['intake-air-temperature'] },
  { plant: coolantHot, needs: ['coolant-temperature'] },
  { plant: misfire, needs: ['lambda-2', 'short-term-fuel-trim'] },
  { plant: troubleCodes },
];

let real: Recording[] | undefined;

/** The healthy ground of a case. One in seven simulated, one in twelve real (where present), the rest drawn. */
const ground = (seed: number, kinds: readonly Kind[], lengthS: number | undefined): Recording => {
  const random = seeded(seed ^ 0x51ed270b);
  const dice = lengthS === undefined ? random.next() : 1;
  if (dice < 0.14) return simulateHealthy(seed);
  if (dice < 0.22) {
    real ??= realDrives();
    if (real.length > 0) return { ...random.pick(real), seed };
  }
  const needs = kinds.flatMap((kind) => kind.needs ?? []);
  const boosted = kinds.find((kind) => kind.boosted !== undefined)?.boosted;
  return drawDrive(seed, {
    needs,
    without: kinds.flatMap((kind) => kind.without ?? []).filter((quantity) => !needs.includes(quantity)),
    ...(boosted === undefined ? {} : { boosted }),
    ...(lengthS === undefined ? {} : { lengthS }),
  });
};

/** The case of a seed. A quarter are healthy. With `lengthS` it is a drawn drive of that length: quick, and the same on every machine. */
export const drawCase = (seed: number, lengthS?: number): Recording => {
  const random = seeded(seed ^ 0x2545f491);
  if (lengthS === undefined && random.chance(0.06)) {
    const troubled = random.pick([simulateFadingPump, simulateMisfire])(seed);
    if (troubled) return troubled;
  }
  const dice = random.next();
  const kinds = dice < 0.25 ? [] : dice < 0.45 ? [random.pick(ALONE)] : random.shuffled(SPELLS).slice(0, 5);
  return kinds.reduce(
    (recording, kind) => (recording.faults.length >= 4 ? recording : (kind.plant(recording, random) ?? recording)),
    ground(seed, kinds, lengthS),
  );
};
