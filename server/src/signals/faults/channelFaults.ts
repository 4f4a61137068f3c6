// The faults of one channel. A broken sensor leaps out of its range and back a hundred thousand times, and hardly any of these leaps is
// ever looked at:
// they are kept as columns, and made faults when somebody asks for them.

import type { Channel } from '../../formats/session/session.js';
import type { Fault, FaultKind } from '../signals.js';
import { paint } from '../columns/spans.js';
import { byStart } from './byStart.js';

/** Nothing is to be said of a leap but where it went. */
const NO_DATA: Fault['data'] = {};

/** Leaps of a channel out of its range and back, by start. */
export class Leaps {
  size = 0;
  from = new Int32Array(64);
  to = new Int32Array(64);
  private values = new Float64Array(64);

  /** `shapeOf` says how a leap to a value shows. */
  constructor(
    readonly channel: Channel,
    private readonly shapeOf: (value: number) => string,
  ) {}

  push(from: number, to: number, value: number): void {
    if (this.size === this.from.length) this.widen();
    this.from[this.size] = from;
    this.to[this.size] = to;
    this.values[this.size++] = value;
  }

  at(index: number): Fault {
    const value = this.values[index];
    return {
      kind: 'dropout',
      channel: this.channel,
      shape: this.shapeOf(value),
      value,
      from: this.from[index],
      to: this.to[index],
      data: NO_DATA,
    };
  }

  private widen(): void {
    const { from, to, values, size } = this;
    [this.from, this.to, this.values] = [new Int32Array(2 * size), new Int32Array(2 * size), new Float64Array(2 * size)];
    this.from.set(from);
    this.to.set(to);
    this.values.set(values);
  }
}

export class ChannelFaults {
  private made: readonly Fault[] | undefined;

  /** `leaps` are none where there are none; `others` by start. */
  private constructor(
    readonly leaps: Leaps | undefined,
    readonly others: readonly Fault[],
  ) {}

  static of(leaps: Leaps | undefined, others: Fault[]): ChannelFaults {
    return new ChannelFaults(leaps && leaps.size > 0 ? leaps : undefined, byStart(others));
  }

  get length(): number {
    return (this.leaps?.size ?? 0) + this.others.length;
  }

  /** All, by start. */
  get all(): readonly Fault[] {
    const { leaps, others } = this;
    return (this.made ??= leaps ? byStart(Array.from({ length: leaps.size }, (_, index) => leaps.at(index)).concat(others)) : others);
  }

  /** Those of the kind, by start. */
  ofKind(kind: FaultKind): readonly Fault[] {
    return (kind === 'dropout' ? this.all : this.others).filter((fault) => fault.kind === kind);
  }

  /** These and those that were found later. */
  and(later: readonly Fault[]): ChannelFaults {
    return later.length === 0 ? this : ChannelFaults.of(this.leaps, this.others.concat(later));
  }

  /** Sets a mask or a column in each. */
  paintOn(values: Uint8Array | Float64Array, value = 1): void {
    if (this.leaps) paintEach(values, this.leaps.from, this.leaps.to, this.leaps.size, value);
    for (const fault of this.others) paint(values, fault, value);
  }
}

/** A function of its own: a loop that the compiler meets again and again. */
const paintEach = (values: Uint8Array | Float64Array, from: Int32Array, to: Int32Array, size: number, value: number): void => {
  for (let k = 0; k < size; k++) for (let i = from[k]; i < to[k]; i++) values[i] = value;
};
