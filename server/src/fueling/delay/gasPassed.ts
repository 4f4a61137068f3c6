// How much exhaust has gone by. A pipe holds a volume of gas, not a mass: the hotter the gas, the less of it there is, and the sooner it is
// pushed out.

import { roomFor } from '../room.js';

/** Rows further apart have a hole between them. */
export const GAP_S = 1;

/** Flow at which exhaust is taken to be as hot as where the gas in the pipe is stated (500 °C): a car of two litres that cruises. */
const USUAL_G_PER_S = 15;
/**
 * Exhaust is at 300 to 400 °C when an engine idles and at up to 900 °C at full power, 400 to 600 °C most of the time (Heywood 1988, ch.
 * 6.5, from memory), by thirty times the flow; and there a pipe stands at some 15 % more pressure (reference figures). Between the two, the
 * mass in it goes down with about the tenth root of the flow; from 500 °C to 850 °C it would be the fourteenth.
 */
const THINNER_BY = 0.1;

/** How much thinner the gas in the pipe is at a flow (g/s) than at the usual one. */
export const thinnedBy = (flowGPerS: number): number =>
  // The power itself takes three times as long.
  Math.exp(THINNER_BY * Math.log(Math.max(flowGPerS / USUAL_G_PER_S, LEAST_FLOW)));
/** Gas that creeps takes on the pipe's own heat. */
const LEAST_FLOW = 0.1;

/** Exhaust that has passed by each row, g as dense as at the usual flow. */
export const passedG = ({ exhaustGPerS, timeS }: { readonly timeS: Float64Array; readonly exhaustGPerS: Float64Array }): Float64Array => {
  const sum = roomFor(timeS.length).fill(0);
  let flow = 0;
  for (let row = 0; row < sum.length; row++) {
    const before = flow,
      now = exhaustGPerS[row];
    if (now >= 0) flow = now * thinnedBy(now);
    if (row > 0) sum[row] = sum[row - 1] + (Math.max(0, Math.min(timeS[row] - timeS[row - 1], GAP_S)) * (before + flow)) / 2;
  }
  return sum;
};
