// The transport delay of a car by all its sessions: pipe and sensor stay the car's from one log to the next, and each log tells them with
// errors of its own.

import { EXHAUST_OVER_AIR } from '../../signals/mixture/delay.js';
import { keptByList } from '../solution/byList.js';
import { ASSUMED_DELAY, ASSUMED_DEVIATION, MODEL_DEVIATION_S, deviationBy, wholeDelayS, type PhysicalDelay } from './delayModel.js';
import type { DelayFit, SessionWeight } from '../evidence.js';

/**
 * So many sessions before and behind one speak for it: more of them tell no more than the model leaves open, and a sensor may be another
 * later on.
 */
const NEIGHBOURS = 12;
/** One session in ten has another sensor, or a logger that holds it back. No source. */
const OTHER_SHARE = 0.1;
/** Variance of a delay of which nothing is known, s². */
const NOTHING_TOLD = 1;
/** Of what is as good as impossible, so that there is a mean. */
const LEAST_SHARE = 1e-9;
/** How differently two sensors may show the same gas: lag and latency of both (variance, s²). */
const SENSORS_APART = 2 * ((ASSUMED_DELAY.lagS * ASSUMED_DEVIATION[2]) ** 2 + ASSUMED_DEVIATION[3] ** 2);
/**
 * Share of what the model's own shape leaves open (variance) that all logs of a car have alike; the rest goes with how each was driven.
 * Halves, for want of a source.
 */
const SHARED = 0.5;

type Told = SessionWeight['transportDelay'];

/**
 * What one session tells of the delay at an exhaust flow (g/s) and a speed (rpm). What all logs of a car have alike is not in the variance.
 */
class Witness {
  private readonly model: PhysicalDelay;
  private readonly deviation: (flowGPerS: number, rpm: number) => number;

  /** `alike`: all that name their sensor so, in order; `place`: where this one stands among them. */
  constructor(
    readonly fit: DelayFit,
    private readonly alike: readonly Witness[],
    private readonly place: number,
  ) {
    this.model = { kind: 'physical', ...fit, stirred: 0 };
    this.deviation = deviationBy({ model: this.model, covariance: fit.covariance });
  }

  /** Its neighbours. */
  others(): readonly Witness[] {
    return this.alike.slice(Math.max(0, this.place - NEIGHBOURS), this.place + NEIGHBOURS + 1).filter((each) => each !== this);
  }

  at(flowGPerS: number, rpm: number): Known {
    const variance = this.deviation(flowGPerS, rpm) ** 2 + this.fit.rowS ** 2 - SHARED * MODEL_DEVIATION_S ** 2;
    // Numbers of a file may be no covariance of anything.
    return { delayS: wholeDelayS(this.model, flowGPerS, rpm), variance: variance > 0 ? variance : NOTHING_TOLD };
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

/** A delay and its variance, s and s². */
interface Known {
  readonly delayS: number;
  readonly variance: number;
}

/** What a session is told of its delay, with its neighbours'. */
const together = (told: Told, own: Witness): Told => {
  const { flowGPerS, rpm, rpmAt } = own.fit,
    alone = own.at(flowGPerS, rpm);
  const others = own.others(),
    shares = others.map((other) => Math.max(LEAST_SHARE, sameShare(alone, other.at(flowGPerS, rpm))));
  const othersAt = (flow: number, speed: number): Known =>
    mean(
      others.map((other) => other.at(flow, speed)),
      shares,
    );
  // All others together know better than each whether this one stands off.
  const same = sameShare(alone, othersAt(flowGPerS, rpm));
  const laterS = (flow: number, speed: number): number =>
    same * (mean([own.at(flow, speed), othersAt(flow, speed)]).delayS - own.at(flow, speed).delayS);
  const all = mean([alone, othersAt(flowGPerS, rpm)]);
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

/** Each by how sure it is. */
const mean = (known: readonly Known[], shares?: readonly number[]): Known => {
  let [sum, precision] = [0, 0];
  for (const [at, { delayS, variance }] of known.entries()) {
    const weight = (shares ? shares[at] : 1) / variance;
    sum += weight * delayS;
    precision += weight;
  }
  return { delayS: sum / precision, variance: 1 / precision };
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
