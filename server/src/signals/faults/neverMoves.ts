// A reading that keeps one value from the first sample to the last, and coolant that stays cold: what a channel's own habits say nothing
// of.

import { limitOf } from '../../formats/limits.js';
import type { QuantityId } from '../../quantities/quantity.js';
import type { Channel } from '../../formats/session/session.js';
import type { Activity } from '../drive/activity.js';
import { dithers } from '../columns/dither.js';
import type { Track } from '../columns/hold.js';
import { lastingRuns } from '../columns/lasting.js';
import type { Readings } from '../readings.js';
import type { Fault } from '../signals.js';
import { quantileOf, sampleOf } from '../columns/statistics.js';
import { rangeOfColumn } from '../columns/stretches.js';
import { FOLLOWS_LOAD } from './atOneSpeed.js';

/** Channels that cannot keep one value for a whole drive. */
const ALWAYS_MOVES: ReadonlySet<QuantityId> = new Set<QuantityId>([
  'engine-speed',
  'manifold-pressure',
  'throttle',
  'pedal',
  'lambda',
  'lambda-2',
  'mass-air-flow',
  'mass-air-flow-signal',
  'engine-load',
  'injector-pulse-width',
  'injector-duty',
  'ignition-advance',
  'exhaust-gas-temperature',
]);

/** Whether the log shows the unrest of living sensors anywhere. */
export const anyDithers = (readings: Readings): boolean =>
  readings.session.channels.some((other) => other.filled > 0 && dithers(readings.track(other)));

/** One value from the first sample to the last, though other channels show that the engine was driven. */
export const neverMoves = (readings: Readings, track: Track, activity: () => Activity): Fault[] => {
  const { channel, rows, count, values } = track;
  const { quantity } = channel;
  const { timeS } = readings;
  const whole: Fault = { kind: 'stuck', channel, shape: 'never-moves', value: values[0], from: rows[0], to: rows[count - 1] + 1, data: {} };
  if (timeS[rows[count - 1]] - timeS[rows[0]] < limitOf('stuckS', readings.vehicle.limits).value || quantity === undefined) return [];
  if (quantity === 'target-lambda') return values[0] > 0.5 && values[0] < 2 ? [] : [{ ...whole, shape: 'never-answered' }];
  // In a log without any unrest a level is no proof, unless it is of what must follow the engine and lasts.
  if (
    !anyDithers(readings) &&
    (!(FOLLOWS_LOAD.has(quantity) || quantity === 'engine-speed') ||
      timeS[rows[count - 1]] - timeS[rows[0]] < limitOf('stillWhileDrivenS', readings.vehicle.limits).value)
  )
    return [];
  if (!ALWAYS_MOVES.has(quantity) || activity().tellers(quantity) === 0 || !driven(readings, quantity)) return [];
  return [{ ...whole, shape: values[0] === channel.toCanonical(0) ? 'never-answered' : 'never-moves' }];
};

/** Whether any channel but this shows a running engine that changes. */
const driven = (readings: Readings, but: QuantityId): boolean => {
  const byFoot = but === 'throttle' || but === 'pedal';
  for (const [quantity, least] of [
    ['engine-speed', byFoot ? Infinity : 400],
    ['manifold-pressure', byFoot ? 30 : 12],
    ['throttle', 6],
    ['mass-air-flow', byFoot ? 15 : 4],
    ['vehicle-speed', byFoot ? 20 : 10],
    ['lambda', byFoot ? Infinity : 0.03],
  ] as const) {
    const values = quantity === but ? undefined : readings.held(quantity);
    if (!values) continue;
    const sample = sampleOf(values);
    if (quantileOf(sample, 0.97) - quantileOf(sample, 0.03) > least) return true;
  }
  return false;
};

/** Coolant that stays below warm and does not move for minutes of running. */
export const coldCoolantStill = (readings: Readings, track: Track): Fault[] => {
  if (track.channel.quantity !== 'coolant-temperature') return [];
  const { rows, values, count, channel } = track;
  const { timeS } = readings;
  const rpm = readings.clean('engine-speed');
  const warmC = limitOf('warmCoolantC', readings.vehicle.limits).value,
    stillS = limitOf('coldCoolantStillS', readings.vehicle.limits).value;
  const found: Fault[] = [];
  for (const a of lastingRuns(readings, track)) {
    if (!(values[a] < warmC - 10)) continue;
    let b = a + 1,
      runningS = 0;
    for (; b < count && values[b] === values[a]; b++)
      if (!rpm || rpm[rows[b]] > 500) runningS += Math.min(2, timeS[rows[b]] - timeS[rows[b - 1]]);
    if (!(runningS > stillS)) continue;
    const isWhole = a === 0 && b === count;
    found.push({
      kind: 'stuck',
      channel,
      shape: isWhole ? 'never-moves' : 'frozen',
      value: values[a],
      from: rows[isWhole ? 0 : Math.min(a + 1, b - 1)],
      to: rows[b - 1] + 1,
      data: {},
    });
  }
  return found;
};

/** Whether a column keeps one value from first to last, of a quantity that moves with every engine, while another one of it moves. */
export const isDeadBeside = (known: Channel, other: Channel): boolean =>
  known.quantity !== undefined && ALWAYS_MOVES.has(known.quantity) && !moves(known) && moves(other);

const moves = ({ values }: Channel): boolean => {
  const { least, greatest } = rangeOfColumn(values);
  return greatest > least;
};
