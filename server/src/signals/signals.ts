// A session as signals: held on one time base, cut into recordings and events, each sensor's faults marked.
// What every rule and the fuelling evidence look at; they never touch the text.

import type { QuantityId } from '../quantities/quantity.js';
import type { Channel, Session } from '../formats/session/session.js';
import type { Vehicle } from '../formats/vehicle/vehicle.js';
import type { ChannelFaults } from './faults/channelFaults.js';

/** Samples `from` (inclusive) to `to` (exclusive). */
export interface Span {
  readonly from: number;
  readonly to: number;
}

export type EventKind = 'engine-off' | 'cranking' | 'warm-up' | 'idle' | 'cruise' | 'pull' | 'overrun' | 'tip-in' | 'gear-shift';

export interface Event extends Span {
  readonly kind: EventKind;
}

/** What a sensor's readings suffer from in a spell. */
export type FaultKind = 'dropout' | 'clipped-low' | 'clipped-high' | 'stuck' | 'cold' | 'implausible';

/** A spell in which a channel's readings are not the truth. `held` says the channel still shows numbers there. */
export interface Fault extends Span {
  readonly kind: FaultKind;
  readonly channel: Channel;
  /** How it shows: `blank`, `zero`, `frozen`, `full-scale`, `open-circuit`, `free-air`, … for the wording. */
  readonly shape: string;
  /** The value shown meanwhile, canonical unit; NaN for blanks. */
  readonly value: number;
  readonly data: Readonly<Record<string, number | string>>;
}

/** One full-load run through the speed range, with the numbers a tuner asks for; a number is undefined where no channel tells it. */
export interface Pull extends Span {
  readonly recording: number;
  readonly fromRpm: number;
  readonly toRpm: number;
  readonly peakManifoldPressureKPa?: number;
  /** Greatest lambda above target (or greatest lambda, without a target), on trusted readings only, at `worstAt`. */
  readonly worstLambda?: number;
  readonly worstTargetLambda?: number;
  readonly worstAt?: number;
  /** Seconds in which lambda stood above target by more than the warning limit. */
  readonly leanS?: number;
  readonly peakKnockRetardDeg?: number;
  readonly meanIgnitionAdvanceDeg?: number;
  readonly peakDutyPercent?: number;
  /** Greatest fall of the pressure over the injector that lasted, percent of what it is at light load: the measure of its finding. */
  readonly fuelPressureDropPercent?: number;
  readonly intakeAirRiseC?: number;
  readonly gear?: number;
}

export interface Signals {
  readonly session: Session;
  readonly vehicle: Vehicle;
  readonly timeS: Float64Array;
  /** Median step of the whole log, seconds. */
  readonly stepS: number;
  /**
   * The first channel of a quantity (of lambda the first that measures, `narrowLambda.ts`) held (or interpolated) over its blanks up to a
   * stated age; NaN beyond. Undefined without such a channel.
   */
  held(quantity: QuantityId): Float64Array | undefined;
  channel(quantity: QuantityId): Channel | undefined;
  /**
   * How much older than its row a number may be, seconds: a slow logger shows each channel's last answer until the next. 0 where every row
   * is read.
   */
  ageS(quantity: QuantityId): number;
  /** 1 where the channel's reading may be believed, 0 in its faults and where it is missing. Shared: never written to. */
  trusted(quantity: QuantityId): Uint8Array | undefined;
  readonly recordings: readonly Span[];
  /** By start; kinds may overlap (a tip-in within a warm-up). */
  readonly events: readonly Event[];
  readonly pulls: readonly Pull[];
  readonly faults: readonly Fault[];
  /** The faults of one channel, or those of a kind, by start: found without looking at the others' where only a few are needed. */
  faultsOf(channel: Channel, kind?: FaultKind): readonly Fault[];
  /** The faults of every channel, one behind the other. */
  readonly faultLists: readonly ChannelFaults[];
  /** Lets in whoever waits for this thread: called between the pieces of long work, where nothing is half made that others use. */
  between(): void;
  /** 1 while an event of the kind lasts. */
  during(kind: EventKind): Uint8Array;
  /** Air around the car, kPa, and how it is known. */
  readonly barometer: { readonly kPa: number; readonly from: 'channel' | 'engine-off' | 'wide-open' | 'assumed' };
  /** Target lambda per sample: the logged channel, else the vehicle's target table at the operating point; undefined without either. */
  readonly targetLambda: { readonly values: Float64Array; readonly from: 'channel' | 'table' } | undefined;
}
