// Where sensors and messages end: the values at which a flat top or a leap is the sensor's doing and not the engine's.

import type { QuantityId } from '../../quantities/quantity.js';

/**
 * Full scales of common manifold sensors, kPa absolute, with what the scaling of their last volt adds ("1 bar" to "4 bar"; common practice,
 * no source).
 */
const MANIFOLD_FULL_SCALES_KPA: readonly (readonly [low: number, high: number])[] = [
  [103, 111],
  [198, 212],
  [248, 256],
  [298, 317],
  [395, 420],
];
/** Ends of the numbers that carry the value: SAE J1979 PID 0B, 0A, 0C, 0D and 10 at all ones. */
const MESSAGE_ENDS: Readonly<Partial<Record<QuantityId, number>>> = {
  'manifold-pressure': 255,
  'fuel-pressure': 765,
  'engine-speed': 16383.75,
  'vehicle-speed': 255,
  'mass-air-flow': 655.35,
};
/** Hotter than any engine that still ran the second before and after: the end of a thermistor's curve (common practice, no source). */
const NO_HEAT_FROM_C: Readonly<Partial<Record<QuantityId, number>>> = {
  'coolant-temperature': 126,
  'intake-air-temperature': 120,
  'oil-temperature': 170,
};
/**
 * Outside these lambda shows free air or a controller's end, whatever the engine burns (rich and lean limits of ignition: Heywood ch. 9,
 * from memory).
 */
export const LAMBDA_ENDS: readonly [rich: number, lean: number] = [0.66, 1.35];

/** Leaner no gasoline engine burns steadily, not even badly (lean limit of ignition: Heywood ch. 9, from memory). */
export const LEANEST_BURNT_LAMBDA = 1.5;

/** Whether a warm engine burns so steadily: further out a gauge sees air, or stands at its end. Common practice, no source. */
export const isMixture = (lambda: number): boolean => lambda > 0.65 && lambda < 1.25;

/** Whether a message, not an engine, ends at this value; a logger may have rounded it. */
export const isMessageEnd = (quantity: QuantityId, value: number): boolean => {
  const end = MESSAGE_ENDS[quantity] ?? NaN;
  return Math.abs(value - end) < 0.01 || value === Math.round(end) || value >= (NO_HEAT_FROM_C[quantity] ?? Infinity);
};

/** Whether a sensor may end at this value. */
export const isSensorEnd = (quantity: QuantityId, value: number): boolean =>
  isMessageEnd(quantity, value) ||
  (quantity === 'manifold-pressure' && MANIFOLD_FULL_SCALES_KPA.some(([low, high]) => value >= low && value <= high));

/** Whether lambda is at an end that no burning mixture reaches. */
export const isLambdaEnd = (lambda: number): boolean => lambda <= LAMBDA_ENDS[0] || lambda >= LAMBDA_ENDS[1];
