// Where the banks of an engine contradict each other: one cylinder, injector or sensor is at fault, and their mean is nobody's mixture.

import { limitOf } from '../../formats/limits.js';
import { AIR_LAMBDA } from './misfire.js';
import { MERGE_S } from './offTarget.js';
import { believed } from '../drive/operating.js';
import type { Signals, Span } from '../signals.js';
import { spansOf } from '../columns/spans.js';
import { marksSustained } from '../columns/underLoad.js';

/**
 * ln of a bank's lambda over the other's. One of six cylinders of a bank without fuel makes 6/5 of it (0.18), one of fewer more; injectors
 * and sensors of a sound engine scatter by a few per cent (order of magnitude, no source).
 */
export const BANKS_APART = 0.15;

/** Spells in which they stand further apart than that in the mean over `misfireS`, either one the leaner. */
export const banksApart = (signals: Signals): readonly Span[] => {
  const { timeS, recordings } = signals,
    one = believed(signals, 'lambda'),
    other = believed(signals, 'lambda-2');
  if (!one || !other) return [];
  const apart = apartOf(one, other);
  return apart
    ? spansOf(marksSustained(apart, signals, limitOf('misfireS', signals.vehicle.limits).value, BANKS_APART), timeS, {
        bridgeS: MERGE_S,
        recordings,
      })
    : [];
};

/** NaN where either is not read, and where both show air. Undefined where no reading is so far from the other bank's. */
const apartOf = (one: Float64Array, other: Float64Array): Float64Array | undefined => {
  const ratio = Math.exp(BANKS_APART),
    isApart = (a: number, b: number): boolean => a > ratio * b || b > ratio * a;
  let first = 0;
  while (first < one.length && !isApart(one[first], other[first])) first++;
  if (first === one.length) return undefined;
  const apart = new Float64Array(one.length).fill(NaN);
  for (let i = 0; i < apart.length; i++)
    if (!(one[i] > AIR_LAMBDA && other[i] > AIR_LAMBDA)) apart[i] = Math.abs(Math.log(other[i] / one[i]));
  return apart;
};
