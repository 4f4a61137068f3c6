// All spells in which a sensor does not tell the truth: the plain ones first, then those that only the drive's events reveal.

import { limitOf } from '../../formats/limits.js';
import type { Channel } from '../../formats/session.js';
import { activityOf, type Activity } from '../activity.js';
import { EXCUSED, flatRuns, LEAVE_OUT, type FlatStatistics } from '../flatRuns.js';
import type { Readings } from '../readings.js';
import type { EventKind, Fault } from '../signals.js';
import { airInExhaust, clippedOf } from './clipped.js';
import { coldSpellsOf } from './cold.js';
import { dropoutsOf } from './dropout.js';
import { airLeakAtIdle, outOfRangeOf, wrongUnitOf } from './implausible.js';
import { stuckOf } from './stuck.js';

/** Above this a lambda reading in a fuel cut is on its way to or at free air, and stands still by right. */
const AIR_FROM = 1.12;

/** Faults that show in the channel alone: blanks, jumps to an end of its scale and back, values no engine can have, a unit that does not fit. */
export const plainFaultsOf = (readings: Readings, channel: Channel): Fault[] => {
  if (channel.filled === 0) return [];
  const track = readings.track(channel);
  const unit = wrongUnitOf(readings, track);
  if (unit) return [unit];
  const dropouts = dropoutsOf(readings, track);
  return [...dropouts, ...outOfRangeOf(readings, track, limitOf('dropoutLongestS', readings.vehicle.limits).value)];
};

/** Faults of a channel that show only against what the engine did meanwhile; `plain` are those that show in a channel alone. */
export const faultsWithEvents = (
  readings: Readings, plain: (channel: Channel) => readonly Fault[], during: (kind: EventKind) => Uint8Array,
): ((channel: Channel) => Fault[]) => {
  const activity: Activity = activityOf(readings);
  const off = during('engine-off'), cranking = during('cranking');
  const standing = off.slice();
  for (let i = 0; i < standing.length; i++) standing[i] = off[i] | cranking[i] ? LEAVE_OUT : 0;
  let made: Uint8Array | undefined;
  const air = (): Uint8Array => (made ??= airInExhaust(readings, during));
  return (channel) => {
    const { quantity } = channel;
    if (quantity === undefined || channel.filled === 0) return [];
    const own = plain(channel);
    if (own.some((fault) => fault.shape === 'unit' || fault.shape === 'afr-scale')) return [];
    const track = readings.track(channel);
    const taken = new Uint8Array(readings.timeS.length);
    for (const fault of own) taken.fill(1, fault.from, fault.to);
    const lambda = quantity === 'lambda' || quantity === 'lambda-2';
    const cold = lambda ? coldSpellsOf(readings, track, during) : [];
    for (const fault of cold) taken.fill(1, fault.from, fault.to);
    let statistics: FlatStatistics | undefined;
    const flat = (): FlatStatistics => {
      if (statistics) return statistics;
      const skip = standing.slice();
      for (const fault of [...own, ...cold]) skip.fill(LEAVE_OUT, fault.from, fault.to);
      if (lambda) {
        const aired = air(), held = readings.held(quantity)!;
        for (let i = 0; i < skip.length; i++) if (aired[i] === 1 && skip[i] === 0 && !(held[i] < AIR_FROM)) skip[i] = EXCUSED;
      }
      return (statistics = flatRuns(track, activity.classes(quantity), skip, [track.least, track.greatest]));
    };
    const clipped = clippedOf(readings, track, flat, air, taken);
    for (const fault of clipped) taken.fill(1, fault.from, fault.to);
    const stuck = stuckOf(readings, track, flat, activity, taken);
    for (const fault of stuck) taken.fill(1, fault.from, fault.to);
    return [...cold, ...clipped, ...stuck, ...(lambda ? airLeakAtIdle(readings, track, during, taken) : [])];
  };
};
