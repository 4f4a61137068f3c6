// All spells in which a sensor does not tell the truth: the plain ones first, then those that only the drive's events reveal.

import { limitOf } from '../../formats/limits.js';
import type { Channel } from '../../formats/session/session.js';
import { activityOf, type Activity } from '../drive/activity.js';
import { dithers } from '../columns/dither.js';
import { EXCUSED, flatRuns, isHeldForAtMost, LEAVE_OUT, type FlatStatistics } from '../columns/flatRuns.js';
import type { QuantityId } from '../../quantities/quantity.js';
import type { Track } from '../columns/hold.js';
import { once } from '../once.js';
import type { Readings } from '../readings.js';
import type { EventKind, Fault } from '../signals.js';
import { ChannelFaults } from './channelFaults.js';
import { airInExhaust } from './airInExhaust.js';
import { clippedOf } from './clipped.js';
import { coldSpellsOf } from './cold.js';
import { dropoutsOf } from './dropout.js';
import { extremesOutside } from './extremesOutside.js';
import { airLeakAtIdle, outOfRangeOf, wrongUnitOf } from './implausible.js';
import { anyOf, endOfMarks, nextMark } from '../columns/spans.js';
import { stillWhileDriven } from './stillWhileDriven.js';
import { frozenOf } from './stuck.js';
import { trimLeakAtIdle } from './trimLeak.js';

/** Above this a lambda reading in a fuel cut is on its way to or at free air, and stands still by right. */
const AIR_FROM = 1.12;

/** Shapes of faults that leave nothing of a channel to be believed. */
const OF_WHOLE_CHANNEL: ReadonlySet<string> = new Set([
  'unit',
  'is-target',
  'afr-scale',
  'no-mixture',
  'burnt-cut',
  'turned',
  'rises-with-fuel',
]);

/**
 * What a channel's own habits say of it. `heldFor`: the readings that the logger holds a value for, or what is `enough` where they are no
 * more.
 */
interface FirstLook {
  readonly track: Track;
  readonly ends: readonly [number, number];
  readonly heldFor: (enough: number) => number;
  readonly cold: readonly Fault[];
  readonly clipped: readonly Fault[];
  readonly frozen: readonly Fault[];
}

/**
 * Faults that show in the channel alone: blanks, jumps to an end of its scale and back, values no engine can have, a unit that does not
 * fit.
 */
export const plainFaultsOf = (readings: Readings, channel: Channel): ChannelFaults => {
  // Of a channel of which nothing is known only blanks can be told.
  if (channel.filled === 0 || (channel.quantity === undefined && channel.filled === readings.timeS.length))
    return ChannelFaults.of(undefined, []);
  const track = readings.track(channel);
  const unit = wrongUnitOf(readings, track);
  if (unit) return ChannelFaults.of(undefined, [unit]);
  const { leaps, others } = dropoutsOf(readings, track);
  return ChannelFaults.of(leaps, others.concat(outOfRangeOf(readings, track, limitOf('dropoutLongestS', readings.vehicle.limits).value)));
};

/**
 * Faults of a channel that show only against what the engine did meanwhile; `plain` are those that show in a channel alone, `target` is the
 * target lambda, logged or of the vehicle's table.
 */
export const faultsWithEvents = (
  readings: Readings,
  plain: (channel: Channel) => ChannelFaults,
  during: (kind: EventKind) => Uint8Array,
  target: () => Float64Array | undefined,
): ((channel: Channel) => Fault[]) => {
  // Found where a channel asks: of most living channels no run of equal readings is long enough to be judged.
  const activity = once((): Activity => activityOf(readings));
  const standing = once(() => standingOf(during('engine-off'), during('cranking')));
  const air = once(() => airInExhaust(readings, during));
  const nowhere = new Uint8Array(readings.timeS.length);
  /** 1 in the faults; never written to. */
  const masked = (faults: ChannelFaults): Uint8Array => {
    if (faults.length === 0) return nowhere;
    const mask = new Uint8Array(nowhere.length);
    faults.paintOn(mask);
    return mask;
  };
  // First what shows in a channel's own habits …
  const first = (channel: Channel): FirstLook | undefined => {
    const { quantity } = channel;
    if (quantity === undefined || channel.filled === 0) return undefined;
    const own = plain(channel);
    if (own.others.some(({ shape }) => OF_WHOLE_CHANNEL.has(shape))) return undefined;
    const track = readings.track(channel);
    const lambda = quantity === 'lambda' || quantity === 'lambda-2';
    const cold = lambda ? coldSpellsOf(readings, track, during) : [],
      before = own.and(cold);
    const taken = masked(before);
    // What a loose plug made of the reading is no end of it.
    const believable = before.length === 0 ? ([track.least, track.greatest] as const) : extremesOutside(track, taken);
    const skipped = (): Uint8Array => {
      const skip = standing().slice();
      before.paintOn(skip, LEAVE_OUT);
      if (lambda) excuseAir(skip, air(), readings.held(quantity)!);
      return skip;
    };
    let statistics: FlatStatistics | undefined;
    const flat = (): FlatStatistics => (statistics ??= flatRuns(track, activity().classes(quantity), skipped(), believable));
    const heldFor = (enough: number): number =>
      !dithers(track)
        ? 1
        : enough >= 1 && isHeldForAtMost(track, before.length > 0 ? skipped() : standing(), enough)
          ? enough
          : flat().heldFor;
    readings.between();
    const clipped = clippedOf(readings, track, flat, air, taken);
    const dropouts = clipped.filter(({ kind }) => kind === 'dropout');
    const ends = dropouts.length > 0 ? extremesOutside(track, masked(before.and(dropouts))) : believable;
    readings.between();
    const frozen = frozenOf(readings, track, flat, activity, clipped.length > 0 ? masked(before.and(clipped)) : taken, ends, air);
    // Its runs are asked for no more, and of a long session they are many.
    if (statistics) statistics = { ...statistics, runs: [] };
    return { track, ends, cold, clipped, frozen, heldFor };
  };
  const looked: { readonly made: FirstLook | undefined }[] = [];
  const firstOf = (channel: Channel): FirstLook | undefined => (looked[channel.index] ??= { made: first(channel) }).made;

  // … then what others say against it, where they do not stand still themselves.
  const frozenIn = (quantity: QuantityId): readonly Fault[] => {
    const channel = readings.channel(quantity);
    return (channel && firstOf(channel)?.frozen) ?? [];
  };
  const alive = readings.session.shelf.each((quantity: QuantityId) => {
    const copy = readings.clean(quantity)!.slice();
    for (const fault of frozenIn(quantity)) copy.fill(NaN, fault.from, fault.to);
    return copy;
  });
  const witnessed: Readings = {
    ...readings,
    clean: (quantity) => (frozenIn(quantity).length > 0 ? alive(quantity) : readings.clean(quantity)),
  };
  return (channel) => {
    const look = firstOf(channel);
    if (!look) return [];
    const { track, ends, cold, clipped, frozen, heldFor } = look;
    // The first of the equal readings of a frozen spell was still true, and told by it.
    const taken = masked(
      plain(channel).and([...cold, ...clipped, ...frozen.map((fault) => ({ ...fault, from: Math.max(0, fault.from - 1) }))]),
    );
    readings.between();
    const still = stillWhileDriven(witnessed, track, ends, taken, heldFor);
    readings.between();
    const lambda = channel.quantity === 'lambda' || channel.quantity === 'lambda-2';
    return [
      ...cold,
      ...clipped,
      ...frozen,
      ...still,
      ...(lambda ? airLeakAtIdle(readings, track, during, taken, target()) : trimLeakAtIdle(readings, track, during, taken)),
    ];
  };
};

/** Left out where the engine stands or is only being started. */
const standingOf = (off: Uint8Array, cranking: Uint8Array): Uint8Array => {
  const standing = anyOf(off, cranking);
  for (let from = nextMark(standing, 0); from < standing.length;) {
    const to = endOfMarks(standing, from);
    standing.fill(LEAVE_OUT, from, to);
    from = nextMark(standing, to);
  }
  return standing;
};

/** Excuses lambda where it shows the air that the exhaust may hold. */
const excuseAir = (skip: Uint8Array, aired: Uint8Array, lambda: Float64Array): void => {
  for (let i = 0; i < skip.length; i++) if (aired[i] === 1 && skip[i] === 0 && !(lambda[i] < AIR_FROM)) skip[i] = EXCUSED;
};
