// Where a leak ahead of the lambda sensor, which idle tells of, still counts at light load: a hole lets in much the same air at all times,
// so that its share goes with one over the engine's own flow.

import type { Signals } from '../../signals/signals.js';
import { medianByPlace } from '../../formats/median.js';
import { markBelow } from './leftOut.js';

/** Two thirds of what is promised of a firm cell: a greater share of leaked air would be taken for the table. */
const MOST_SHARE = 0.02;

/** Leaves out the rows in which the leak's share is too large to weigh what is read there; none without a leak. */
export const markLeaking = (reason: Uint8Array, signals: Signals, flowGPerS: Float64Array): void => {
  const idle: number[] = [];
  let share = 0;
  for (const quantity of ['lambda', 'lambda-2'] as const) {
    const channel = signals.channel(quantity),
      leaks = channel ? signals.faultsOf(channel).filter(({ shape }) => shape === 'air-leak') : [];
    for (const { data } of leaks) share = Math.max(share, Number(data.atIdle));
    for (const { from, to } of leaks) for (let row = from; row < to; row++) if (flowGPerS[row] > 0) idle.push(flowGPerS[row]);
  }
  if (idle.length === 0) return;
  const leastGPerS = (share * medianByPlace(Float64Array.from(idle))) / MOST_SHARE;
  markBelow(reason, flowGPerS, leastGPerS, 'sensor-fault');
};
