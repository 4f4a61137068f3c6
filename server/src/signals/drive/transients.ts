// What makes a reading lean for a moment though no cylinder misses: air in the exhaust, a tip-in, a shift, a start, a foot that lifts.

import { believed, type Operating } from './operating.js';
import type { Signals, Span } from '../signals.js';
import { marksWithin, widened, without } from '../columns/spans.js';

/** 1 but where air in the exhaust, a tip-in, a shift or a start may have made a reading lean. */
export const withoutTransients = ({ timeS, during }: Signals, { air }: Operating): Uint8Array => {
  const tipIn = widened(during('tip-in'), timeS, 0, 0.5),
    shift = widened(during('gear-shift'), timeS, 0.2, 0.8);
  const off = widened(during('engine-off'), timeS, 0.5, 3),
    cranking = widened(during('cranking'), timeS, 0.5, 3);
  return without(new Uint8Array(timeS.length).fill(1), air, tipIn, shift, off, cranking);
};

/**
 * A foot that goes so fast leaves a manifold to empty and a film to dry, for about so long: lean or rich, as the calibration has it (common
 * practice, no source).
 */
const LIFT_PERCENT = 10,
  LIFT_WITHIN_S = 0.3,
  LIFT_S = 0.9;

/**
 * 1 while a throttle shuts fast, and as long behind as its mixture takes to settle. Whether it is to be believed, which is dear to find, is
 * asked where it shows that in one of the spells: elsewhere nothing comes of it.
 */
export const liftOff = (signals: Signals, spells: readonly Span[]): Uint8Array => {
  const by = signals.channel('throttle') ? 'throttle' : 'pedal',
    { timeS } = signals,
    shown = shutsFast(signals.held(by), timeS);
  return spells.some(({ from, to }) => marksWithin(shown, from, to) > 0) ? shutsFast(believed(signals, by), timeS) : shown;
};

const shutsFast = (throttle: Float64Array | undefined, timeS: Float64Array): Uint8Array => {
  const marks = new Uint8Array(timeS.length);
  let back = 0;
  if (throttle)
    for (let i = 1; i < marks.length; i++) {
      while (back < i - 1 && timeS[back] < timeS[i] - LIFT_WITHIN_S) back++;
      if (throttle[back] - throttle[i] > LIFT_PERCENT) marks[i] = 1;
    }
  return widened(marks, timeS, 0, LIFT_S);
};
