// The transport delay of a car by all its sessions: pipe and sensor stay the car's from one log to the next, and each log tells them with
// errors of its own.

import { EXHAUST_OVER_AIR } from '../../signals/mixture/delay.js';
import { onceFor } from '../../signals/once.js';
import { keptByList } from '../solution/byList.js';
import { dot } from '../solution/statistics.js';
import {
  ASSUMED_DELAY,
  ASSUMED_DEVIATION,
  DELAY_PARTS,
  MODEL_DEVIATION_S,
  deviationBy,
  wholeDelayS,
  type PhysicalDelay,
} from './delayModel.js';
import { solveSmall } from './solveSmall.js';
import type { DelayFit, SessionWeight } from '../evidence.js';

/**
 * So many sessions before and behind one speak for it: more of them tell no more than the model leaves open, and a sensor may be another
 * later on.
 */
const NEIGHBOURS = 12;
/** One session in ten has another sensor, or a logger that holds it back. No source. */
const OTHER_SHARE = 0.1;
/** How differently two sensors may show the same gas: lag and latency of both (variance, s²). */
const SENSORS_APART = 2 * ((ASSUMED_DELAY.lagS * ASSUMED_DEVIATION[2]) ** 2 + ASSUMED_DEVIATION[3] ** 2);
/**
 * Share of what the model's own shape leaves open (variance) that all logs of a car have alike; the rest goes with how each was driven.
 * Halves, for want of a source.
 */
const SHARED = 0.5;
const APART = (1 - SHARED) * MODEL_DEVIATION_S ** 2;
/** Variance of a delay of which nothing is known, s². */
const NOTHING_TOLD = 1;

type Told = SessionWeight['transportDelay'];

/** Share of what the parts are known to beforehand (variance) that no log takes away: numbers of a file may say that there is no doubt. */
const LEAST_DOUBT = 1e-6;
const LATENCY = DELAY_PARTS - 1;

/**
 * What logs tell of the delay's parts (cycles, ln gas, ln lag, latency) beyond what is assumed of them, each in terms of its assumed
 * deviation: how surely, and by how much times that.
 */
class Word {
  readonly precision = ASSUMED_DEVIATION.map(() => new Float64Array(DELAY_PARTS));
  readonly pull = new Float64Array(DELAY_PARTS);

  add({ precision, pull }: Word, share = 1): this {
    for (let i = 0; i < DELAY_PARTS; i++) {
      this.pull[i] += share * pull[i];
      for (let j = 0; j < DELAY_PARTS; j++) this.precision[i][j] += share * precision[i][j];
    }
    return this;
  }

  /** The delay that it comes to with what is assumed, of which so much gas (g). */
  placing(assumedGasG: number): { readonly model: PhysicalDelay; readonly covariance: readonly number[] } {
    const known = this.precision.map((row, i) => row.map((value, j) => value + (i === j ? 1 : 0))),
      [cycles, gas, lag, latency] = solveSmall(known, this.pull).map((each, i) => each * ASSUMED_DEVIATION[i]);
    const { cycles: usual, lagS, latencyS } = ASSUMED_DELAY;
    return {
      model: {
        kind: 'physical',
        cycles: usual + cycles,
        gasG: assumedGasG * Math.exp(gas),
        stirred: 0,
        lagS: lagS * Math.exp(lag),
        latencyS: latencyS + latency,
      },
      covariance: inverse(known).flatMap((row, i) => [...row].map((value, j) => value * ASSUMED_DEVIATION[i] * ASSUMED_DEVIATION[j])),
    };
  }
}

const inverse = (matrix: readonly Float64Array[]): Float64Array[] =>
  matrix.map((_, i) =>
    solveSmall(
      matrix,
      Float64Array.from(matrix, (__, j) => (i === j ? 1 : 0)),
    ),
  );

/** Eigenvalues of a symmetric matrix, and its eigenvectors in columns (Jacobi's rotations). */
const eigen = (matrix: readonly Float64Array[]): { readonly values: readonly number[]; readonly turned: readonly Float64Array[] } => {
  const a = matrix.map((row) => row.slice()),
    turned = matrix.map((_, i) => Float64Array.from(matrix, (__, j) => (i === j ? 1 : 0)));
  const turn = (row: Float64Array, p: number, q: number, sine: number, cosine: number): void => {
    [row[p], row[q]] = [cosine * row[p] - sine * row[q], sine * row[p] + cosine * row[q]];
  };
  for (let sweep = 0; sweep < SWEEPS; sweep++)
    for (let q = 1; q < a.length; q++)
      for (let p = 0; p < q; p++) {
        const angle = 0.5 * Math.atan2(2 * a[p][q], a[q][q] - a[p][p]),
          [sine, cosine] = [Math.sin(angle), Math.cos(angle)];
        for (const row of [...a, ...turned]) turn(row, p, q, sine, cosine);
        for (let k = 0; k < a.length; k++) [a[p][k], a[q][k]] = [cosine * a[p][k] - sine * a[q][k], sine * a[p][k] + cosine * a[q][k]];
      }
  return { values: a.map((row, i) => row[i]), turned };
};
/** Each squares what is left beside the diagonal. */
const SWEEPS = 8;

/**
 * What a fit tells beyond what was assumed before it, all its readings shifted alike within their rows; nothing where its numbers are no
 * covariance of anything.
 */
const wordOf = onceFor(({ cycles, gasG, assumedGasG, lagS, latencyS, covariance, rowS }: DelayFit): Word => {
  const off = [
    cycles - ASSUMED_DELAY.cycles,
    Math.log(gasG / assumedGasG),
    Math.log(lagS / ASSUMED_DELAY.lagS),
    latencyS - ASSUMED_DELAY.latencyS,
  ].map((each, i) => each / ASSUMED_DEVIATION[i]);
  const told = inverse(
    ASSUMED_DEVIATION.map((deviation, i) =>
      Float64Array.from(ASSUMED_DEVIATION, (other, j) => covariance[DELAY_PARTS * i + j] / deviation / other + (i === j ? LEAST_DOUBT : 0)),
    ),
  );
  // What is told less what was assumed; nothing along the ways on which a log leaves more in doubt than was before.
  const word = new Word(),
    { turned, values } = eigen(told);
  for (const [k, value] of values.entries())
    for (let i = 0; i < DELAY_PARTS; i++)
      for (let j = 0; j < DELAY_PARTS; j++) word.precision[i][j] += Math.max(0, value - 1) * turned[i][k] * turned[j][k];
  for (let i = 0; i < DELAY_PARTS; i++) word.pull[i] = off[i] + dot(word.precision[i], off);
  const { precision, pull } = word,
    latency = precision[LATENCY].slice(),
    share = 1 / ((ASSUMED_DEVIATION[LATENCY] / rowS) ** 2 + latency[LATENCY]),
    pulled = pull[LATENCY];
  for (let i = 0; i < DELAY_PARTS; i++) {
    pull[i] -= latency[i] * share * pulled;
    for (let j = 0; j < DELAY_PARTS; j++) precision[i][j] -= latency[i] * share * latency[j];
  }
  return pull.every(Number.isFinite) ? word : new Word();
});

/** A delay and its variance at an exhaust flow (g/s) and a speed (rpm), s and s². What all logs of a car have alike is not in the variance. */
const knownAt = (placing: ReturnType<Word['placing']>, flowGPerS: number, rpm: number, shifted: number): Known => {
  const variance = deviationBy(placing)(flowGPerS, rpm) ** 2 - MODEL_DEVIATION_S ** 2 + shifted;
  return { delayS: wholeDelayS(placing.model, flowGPerS, rpm), variance: variance > 0 ? variance : NOTHING_TOLD };
};

/** What one session tells of the delay. */
class Witness {
  readonly model: PhysicalDelay;
  private readonly shifted: number;

  /** `alike`: all that name their sensor so, in order; `place`: where this one stands among them. */
  constructor(
    readonly fit: DelayFit,
    private readonly alike: readonly Witness[],
    private readonly place: number,
  ) {
    this.model = { kind: 'physical', ...fit, stirred: 0 };
    this.shifted = fit.rowS ** 2 + APART;
  }

  get word(): Word {
    return wordOf(this.fit);
  }

  /** Its neighbours. */
  others(): readonly Witness[] {
    return this.alike.slice(Math.max(0, this.place - NEIGHBOURS), this.place + NEIGHBOURS + 1).filter((each) => each !== this);
  }

  at(flowGPerS: number, rpm: number): Known {
    return knownAt({ model: this.model, covariance: this.fit.covariance }, flowGPerS, rpm, this.shifted);
  }
}

interface Weighed {
  readonly weight: SessionWeight;
}

/** A delay is reckoned when it is asked for: a table is judged at each key, and few look at the delays of hundreds of sessions. */
const weightsOf = (sessions: readonly Weighed[]): readonly SessionWeight[] => {
  let witnesses: ReturnType<typeof witnessesOf> | undefined;
  return sessions.map(({ weight }, at) => {
    const { transportDelay } = weight;
    if (!transportDelay.fit) return weight;
    let told: Told | undefined;
    return {
      ...weight,
      get transportDelay() {
        return (told ??= togetherOrAlone(transportDelay, (witnesses ??= witnessesOf(sessions))[at]));
      },
    };
  });
};

/**
 * The weights of a car's sessions, in order, each with the delay that it and its neighbours tell together: at each flow by how sure each is
 * there, and by how likely it has the same sensor. A session whose log tells no delay keeps what it has. Made once for a list.
 */
export const delaysOfCar = keptByList(weightsOf);

const togetherOrAlone = (told: Told, own: Witness | undefined): Told => (own && own.others().length > 0 ? together(told, own) : told);

const witnessesOf = (sessions: readonly Weighed[]): readonly (Witness | undefined)[] => {
  const bySensor = new Map<string, Witness[]>();
  return sessions.map(
    ({
      weight: {
        transportDelay: { fit },
        leftOut,
      },
    }) => {
      // A copy of another session says nothing new.
      if (!fit || leftOut['same-readings']) return undefined;
      const alike = bySensor.get(fit.sensor) ?? [],
        witness = new Witness(fit, alike, alike.length);
      alike.push(witness);
      bySensor.set(fit.sensor, alike);
      return witness;
    },
  );
};

interface Known {
  readonly delayS: number;
  readonly variance: number;
}

/** What a session is told of its delay, with its neighbours'. */
const together = (told: Told, own: Witness): Told => {
  const { flowGPerS, rpm, rpmAt, assumedGasG } = own.fit,
    alone = own.at(flowGPerS, rpm);
  const others = new Word();
  let logs = 0;
  for (const other of own.others()) {
    const share = sameShare(alone, other.at(flowGPerS, rpm));
    others.add(other.word, share);
    logs += share;
  }
  // All others together know better than each whether this one stands off.
  const same = sameShare(alone, knownAt(others.placing(assumedGasG), flowGPerS, rpm, APART / Math.max(1, logs))),
    placing = others.add(own.word).placing(assumedGasG),
    all = knownAt(placing, flowGPerS, rpm, APART / (1 + logs));
  const laterS = (flow: number, speed: number): number =>
    same * (wholeDelayS(placing.model, flow, speed) - wholeDelayS(own.model, flow, speed));
  return {
    ...told,
    byCar: true,
    medianS: told.medianS + laterS(flowGPerS, rpm),
    byFlow: told.byFlow.map(([flow, seconds], point) => [flow, seconds + laterS(flow * EXHAUST_OVER_AIR, rpmAt[point])] as const),
    deviationS: Math.sqrt(
      same * all.variance +
        (1 - same) * alone.variance +
        same * (1 - same) * (all.delayS - alone.delayS) ** 2 +
        SHARED * MODEL_DEVIATION_S ** 2,
    ),
  };
};

/**
 * How likely two delays are of the same sensor, by how far apart they are: by what they are uncertain alone, or by what sensors differ too
 * (Bayes).
 */
const sameShare = (one: Known, other: Known): number => {
  const apart = one.delayS - other.delayS,
    variance = one.variance + other.variance;
  const same = (1 - OTHER_SHARE) * density(apart, variance),
    differ = OTHER_SHARE * density(apart, variance + SENSORS_APART);
  return same + differ > 0 ? same / (same + differ) : 0;
};

const density = (distance: number, variance: number): number => Math.exp(-(distance ** 2) / 2 / variance) / Math.sqrt(variance);
