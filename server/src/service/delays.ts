// How late each lambda reading of a session is: by what weighing found in that session, else by the stated model.

import type { Table } from '../formats/table/table.js';
import type { SessionWeight } from '../fueling/evidence.js';
import { trackOf } from '../fueling/track.js';
import type { Signals } from '../signals/signals.js';
import { delayAlongS, delaySeries, EXHAUST_OVER_AIR } from '../signals/mixture/delay.js';

export interface Delays {
  /** One a sample, seconds. */
  readonly delaysS: Float64Array;
  /**
   * `log`: estimated from this session; `car`: and from the car's others; `assumed`: the log does not tell; `model`: the session has not
   * been weighed.
   */
  readonly from: 'log' | 'car' | 'vehicle.json' | 'assumed' | 'model';
}

/** What weighing found of a session, with the tables that it was weighed by. */
export interface WeighedDelay {
  readonly transportDelay: SessionWeight['transportDelay'];
  readonly table: Table;
  readonly loggedWith: Table;
}

const modelled = new WeakMap<Signals, Delays>();
const weighed = new WeakMap<Signals, { readonly by: SessionWeight['transportDelay']; readonly delays: Delays }>();

/** Worked out once for a session and what was found of it. */
export function delaysOf(signals: Signals, found?: WeighedDelay): Delays {
  if (!found || found.transportDelay.from === 'vehicle.json' || !Number.isFinite(found.transportDelay.medianS)) {
    let known = modelled.get(signals);
    if (!known)
      modelled.set(
        signals,
        (known = {
          delaysS: delaySeries(signals),
          from:
            signals.vehicle.lambdaSensor.transportDelay === undefined || signals.vehicle.lambdaSensor.transportDelay === 'estimate'
              ? 'model'
              : 'vehicle.json',
        }),
      );
    return known;
  }
  let known = weighed.get(signals);
  if (known?.by !== found.transportDelay) weighed.set(signals, (known = { by: found.transportDelay, delays: byFlow(signals, found) }));
  return known.delays;
}

/** Along the air's flow as weighing had it, between the points that it found; the end ones hold outside. */
function byFlow(
  signals: Signals,
  { transportDelay: { byFlow: points, medianS, from: source, byCar }, table, loggedWith }: WeighedDelay,
): Delays {
  const from = byCar ? 'car' : source;
  if (points.length === 0) return { delaysS: new Float64Array(signals.timeS.length).fill(medianS), from };
  const { exhaustGPerS } = trackOf(signals, table, loggedWith, 0);
  const delaysS = exhaustGPerS.map((exhaust) => (exhaust >= 0 ? delayAlongS(points, exhaust / EXHAUST_OVER_AIR) : medianS));
  return { delaysS, from };
}

/** Where a delay comes from, to be said behind it. */
export const DELAY_FROM: Readonly<Record<Delays['from'], string>> = {
  log: 'delay estimated from this session',
  car: "delay estimated from this session and the car's others",
  'vehicle.json': 'delay as vehicle.json states it',
  assumed: 'delay assumed: this session does not tell it',
  model: 'delay by a stated model: the session has not been weighed',
};
