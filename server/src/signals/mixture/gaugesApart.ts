// Two gauges of one bank that differ steadily: one of them is wrong, and the readings do not tell which.

import { limitOf } from '../../formats/limits.js';
import { isOfCylinder } from '../../formats/session/channelNames.js';
import type { Channel } from '../../formats/session/session.js';
import { vehicleFuel } from '../../formats/vehicle/vehicleFuel.js';
import { fuelOf, GASOLINE_SCALE_AFR } from '../../quantities/fuels.js';
import { isMixture } from '../faults/scaleEnds.js';
import { believed } from '../drive/operating.js';
import type { Signals } from '../signals.js';
import { quantileOf } from '../columns/statistics.js';

export interface GaugesApart {
  /** The one that everything goes by, and the other. */
  readonly first: Channel;
  readonly second: Channel;
  /** The first over the second less one: middle, and the half of the readings in the middle. */
  readonly apart: number;
  readonly low: number;
  readonly high: number;
  readonly readings: number;
}

const LEAST_READINGS = 200;
/** One column of AFR on its fuel's own scale beside lambda of the same sensor: their ratio is the fuel's, to this. */
const SCALE_WITHIN = 0.006;

/** Of the first two channels that read a bank's lambda; undefined where there are not two, or they agree. */
export const gaugesApart = (signals: Signals): GaugesApart | undefined => {
  for (const quantity of ['lambda', 'lambda-2'] as const) {
    const first = signals.channel(quantity),
      values = first && believed(signals, quantity);
    if (!values) continue;
    for (const second of signals.session.channels) {
      const found =
        second.quantity === quantity && second !== first && !isOfBoth(signals, second) && !isOfCylinder(second)
          ? compared(signals, first, values, second)
          : undefined;
      if (found) return found;
    }
  }
  return undefined;
};

/** Where both banks are logged, a mean is theirs. */
const isOfBoth = (signals: Signals, { name }: Channel): boolean =>
  signals.channel('lambda-2') !== undefined && /\b(?:avg|average|mean)\b/i.test(name);

const compared = (signals: Signals, first: Channel, values: Float64Array, second: Channel): GaugesApart | undefined => {
  const others = second.values,
    isWrong = new Uint8Array(values.length),
    ratios = new Float64Array(values.length);
  for (const { from, to } of signals.faultsOf(second)) isWrong.fill(1, from, to);
  let readings = 0;
  for (let row = 0; row < values.length; row++)
    if (isMixture(values[row]) && isMixture(others[row]) && isWrong[row] === 0) ratios[readings++] = values[row] / others[row] - 1;
  if (readings < LEAST_READINGS) return undefined;
  const told = ratios.subarray(0, readings),
    apart = quantileOf(told, 0.5),
    low = quantileOf(told, 0.25),
    high = quantileOf(told, 0.75);
  const limit = limitOf('gaugesApartPercent', signals.vehicle.limits).value / 100;
  return Math.abs(apart) < limit || high - low > Math.abs(apart) || isOneScaled(signals, first, second, apart)
    ? undefined
    : { first, second, apart, low, high, readings };
};

/** Whether it is one sensor, in lambda and as an air-fuel ratio on the scale of the fuel in the tank. */
const isOneScaled = ({ vehicle }: Signals, first: Channel, second: Channel, apart: number): boolean => {
  const isPlainAfr = ({ unit }: Channel): boolean => unit?.id === 'afr' && unit.fuel === undefined,
    fuel = vehicleFuel(vehicle) ?? fuelOf('E10');
  if (isPlainAfr(first) === isPlainAfr(second) || !fuel) return false;
  const scale = GASOLINE_SCALE_AFR / fuel.stoichAfr;
  return Math.abs(1 + apart - (isPlainAfr(second) ? scale : 1 / scale)) < SCALE_WITHIN;
};
