// The way from a session to its signals: everything lazy, everything once, nothing of the text touched.
// Order: rhythm and plain faults of each channel → events → faults that need the events → trust.

import { isOfCylinder } from '../formats/session/channelNames.js';
import type { QuantityId } from '../quantities/quantity.js';
import type { Channel, Session } from '../formats/session/session.js';
import type { Table } from '../formats/table/table.js';
import type { Vehicle } from '../formats/vehicle/vehicle.js';
import { barometerOf } from './barometer.js';
import { isAheadOfThrottle } from './drive/aheadOfThrottle.js';
import { eventsOf, maskOf } from './drive/events.js';
import { faultsWithEvents, plainFaultsOf } from './faults/faults.js';
import { isDeadBeside } from './faults/neverMoves.js';
import { updateS } from './columns/dither.js';
import { hold, trackOf, type Track } from './columns/hold.js';
import { byStart } from './faults/byStart.js';
import { ChannelFaults } from './faults/channelFaults.js';
import { narrowLambdas } from './mixture/narrowLambda.js';
import { pullsOf } from './drive/pulls.js';
import { bridge, type Readings } from './readings.js';
import { recordingsOf } from './drive/recordings.js';
import type { Event, EventKind, Fault, Pull, Signals, Span } from './signals.js';
import { targetOf } from './mixture/target.js';

/** A plain fault longer than this is not bridged for finding events, seconds. */
const LONGEST_BRIDGE_S = 5;

/**
 * Signals of a session as this vehicle's. Never throws; without samples everything is empty. `targetTable` is the vehicle's target table,
 * where it has one; `between` is called between the pieces of long work.
 */
export const analyse = (session: Session, vehicle: Vehicle, options: { targetTable?: Table; between?: () => void } = {}): Signals => {
  const between = options.between ?? (() => undefined);
  const { timeS, shelf } = session;
  const stepS = session.time.medianStepS > 0 ? session.time.medianStepS : 0.1;
  const once = <T>(make: () => T): (() => T) => {
    let made: { value: T } | undefined;
    return () => {
      if (!made) between();
      return (made ??= { value: make() }).value;
    };
  };
  const perQuantity = <T>(make: (quantity: QuantityId) => T): ((quantity: QuantityId) => T) => {
    const made = new Map<QuantityId, { value: T }>();
    return (quantity) => {
      let found = made.get(quantity);
      if (!found) made.set(quantity, (found = { value: make(quantity) }));
      return found.value;
    };
  };

  const firsts = new Map<QuantityId | undefined, Channel>();
  for (const each of session.channels) {
    const known = firsts.get(each.quantity);
    if (
      !known ||
      (known.filled === 0 && each.filled > 0) ||
      (each.filled > 0 && (isDeadBeside(known, each) || isAheadOfThrottle(known, each) || (isOfCylinder(known) && !isOfCylinder(each))))
    )
      firsts.set(each.quantity, each);
  }
  for (const [quantity, { wide }] of narrowLambdas(session)) firsts.set(quantity, wide);
  const channel = (quantity: QuantityId): Channel | undefined => firsts.get(quantity);
  const everyRow = (): Int32Array => shelf.get(timeS, () => countedRows(session.samples));
  const tracks: (Track | undefined)[] = [];
  const track = (of: Channel): Track => (tracks[of.index] ??= trackOf(of, timeS, everyRow, shelf));
  const isWhole = (of: Channel): boolean => track(of).count === timeS.length;
  const filledIn = shelf.each((of: Channel) => hold(track(of), timeS));
  const held = (quantity: QuantityId): Float64Array | undefined => {
    const of = channel(quantity);
    return of && (isWhole(of) ? of.values : filledIn(of));
  };
  const ageS = perQuantity((quantity) => {
    const of = channel(quantity);
    return of ? Math.max(0, updateS(track(of)) - stepS) : 0;
  });
  const recordings = once(() => recordingsOf(session, stepS));
  const barometer = once(() => barometerOf({ channel, held, timeS }, (vehicle.engine.aspiration ?? 'natural') !== 'natural'));
  const perChannel = <T>(make: (channel: Channel) => T): ((channel: Channel) => T) => {
    const made: ({ value: T } | undefined)[] = [];
    return (of) => {
      if (!made[of.index]) between();
      return (made[of.index] ??= { value: make(of) }).value;
    };
  };
  const early = perChannel((of) => plainFaultsOf(readings, of));
  const withoutFaults = shelf.each((of: Channel) => {
    const copy = held(of.quantity!)!.slice();
    early(of).paintOn(copy, NaN);
    bridge(copy, timeS, LONGEST_BRIDGE_S);
    return copy;
  });
  const clean = (quantity: QuantityId): Float64Array | undefined => {
    const of = channel(quantity);
    return of && (early(of).length > 0 ? withoutFaults(of) : held(quantity));
  };
  const readings: Readings = {
    session,
    vehicle,
    timeS,
    stepS,
    channel,
    track,
    held,
    ageS,
    clean,
    between,
    get recordings() {
      return recordings();
    },
    get barometer() {
      return barometer();
    },
  };

  const events = once((): Event[] => (session.samples === 0 ? [] : eventsOf(readings, between)));
  const during = shelf.each((kind: EventKind) => maskOf({ events: events(), timeS }, kind));
  let lateBy: ((of: Channel) => Fault[]) | undefined;
  let unknown = session.channels.length;
  const late = perChannel((of) => {
    if (session.samples === 0) return [];
    const found = (lateBy ??= faultsWithEvents(readings, early, during, () => target()?.values))(of);
    // When every channel's are known what they were found by, which is large, goes.
    if (--unknown === 0) lateBy = undefined;
    return found;
  });
  const channelFaults = perChannel((of) => (session.samples === 0 ? ChannelFaults.of(undefined, []) : early(of).and(late(of))));
  const faultLists = once((): ChannelFaults[] => {
    // What shows in a channel alone comes first: of a long session few columns are at hand when the events are sought.
    for (const channel of session.channels) early(channel);
    return session.channels.map(channelFaults);
  });
  const faults = once((): Fault[] =>
    session.samples === 0 ? [] : byStart([...session.channels.flatMap((of) => early(of).all), ...session.channels.flatMap(late)]),
  );
  const everywhere = once(() => new Uint8Array(session.samples).fill(1));
  const believable = shelf.each((of: Channel) => {
    const mask = isWhole(of) ? everywhere().slice() : numbersMask(held(of.quantity!)!);
    channelFaults(of).paintOn(mask, 0);
    return mask;
  });
  const trusted = (quantity: QuantityId): Uint8Array | undefined => {
    const of = channel(quantity);
    return of && (isWhole(of) && channelFaults(of).length === 0 ? everywhere() : believable(of));
  };
  const target = once(() => (session.samples === 0 ? undefined : targetOf(readings, options.targetTable)));
  const pulls = once((): Pull[] => pullsOf(signals));

  const signals: Signals = {
    session,
    vehicle,
    timeS,
    stepS,
    held,
    channel,
    ageS,
    trusted,
    during,
    between,
    faultsOf: (of, kind) => (kind ? channelFaults(of).ofKind(kind) : channelFaults(of).all),
    get recordings(): readonly Span[] {
      return recordings();
    },
    get events() {
      return events();
    },
    get pulls() {
      return pulls();
    },
    get faultLists() {
      return faultLists();
    },
    get faults() {
      return faults();
    },
    get barometer() {
      return barometer();
    },
    get targetLambda() {
      return target();
    },
  };
  return signals;
};

/** 0, 1, 2, … */
const countedRows = (count: number): Int32Array => {
  const rows = new Int32Array(count);
  for (let i = 0; i < count; i++) rows[i] = i;
  return rows;
};

/** 1 where a column has a number. */
const numbersMask = (values: Float64Array): Uint8Array => {
  const mask = new Uint8Array(values.length);
  for (let i = 0; i < mask.length; i++) if (values[i] === values[i]) mask[i] = 1;
  return mask;
};
