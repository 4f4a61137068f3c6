// A session's channels as a trace shows them: carried over their blanks, named so that other sessions share the names, each with its
// pyramid.

import type { Channel } from '../../formats/session/session.js';
import { LIMITS } from '../../formats/limits.js';
import type { TraceChannel } from '../../protocol/trace.js';
import { QUANTITIES } from '../../quantities/quantity.js';
import { hold, trackOf } from '../../signals/columns/hold.js';
import { onceFor } from '../../signals/once.js';
import { powerOf } from '../../signals/power/power.js';
import { pyramidOf, type Pyramid } from '../../signals/columns/pyramid.js';
import { sweepsOf, type Sweep } from '../../signals/drive/sweeps.js';
import type { Signals } from '../../signals/signals.js';

export interface TraceColumn {
  readonly channel: TraceChannel;
  /** The log's channel; undefined for one that is worked out. */
  readonly logged: Channel | undefined;
  /** One a sample, canonical unit; NaN where the channel has nothing to say. */
  readonly values: Float64Array;
  readonly pyramid: Pyramid;
}

export interface TraceColumns {
  readonly all: readonly TraceColumn[];
  find(id: string): TraceColumn | undefined;
  /** Whether the log has a hole, or another recording begins, between the sample before and this one. */
  breaksBefore(sample: number): boolean;
  readonly sweeps: readonly Sweep[];
}

/** Worked out once a session, each column when it is first wanted. */
export const traceColumns = onceFor((signals: Signals): TraceColumns => make(signals));

/** A hole in time is drawn from so many usual steps on, and from the limit at which it is told. */
const HOLE_STEPS = 10;

function make(signals: Signals): TraceColumns {
  const { session, timeS, stepS } = signals;
  const ids = new Set<string>();
  const all: TraceColumn[] = [];
  const add = (logged: Channel | undefined, channel: TraceChannel, read: () => Float64Array): void => {
    ids.add(channel.id);
    let values: Float64Array | undefined, pyramid: Pyramid | undefined;
    all.push({
      channel,
      logged,
      get values() {
        return (values ??= read());
      },
      get pyramid() {
        return (pyramid ??= pyramidOf(this.values));
      },
    });
  };

  for (const channel of session.channels) {
    const { quantity, unit } = channel;
    if (quantity === 'trouble-code' || channel.filled === 0) continue;
    const first = quantity !== undefined && signals.channel(quantity) === channel;
    add(
      channel,
      {
        id: free(ids, first ? quantity : `${channel.header} `),
        name: channel.name || channel.header,
        quantity,
        derived: false,
        unit: quantity ? QUANTITIES[quantity].unit : unit?.id,
        writtenUnit: unit?.id,
        symbol: unit?.symbol ?? '',
      },
      () =>
        channel.filled === session.samples
          ? channel.values
          : first
            ? signals.held(quantity)!
            : hold(
                trackOf(channel, timeS, () => new Int32Array(), session.shelf),
                timeS,
              ),
    );
  }
  const target = signals.targetLambda;
  if (target?.from === 'table' && !ids.has('target-lambda')) {
    add(
      undefined,
      {
        id: 'target-lambda',
        name: 'target lambda',
        quantity: 'target-lambda',
        derived: true,
        unit: 'lambda',
        writtenUnit: 'lambda',
        symbol: 'λ',
      },
      () => target.values,
    );
  }

  if (signals.pulls.some((pull) => !('refused' in powerOf(signals, pull)))) {
    add(
      undefined,
      { id: free(ids, 'wheel-power'), name: 'wheel power', derived: true, unit: undefined, writtenUnit: undefined, symbol: 'kW' },
      () => wheelPower(signals),
    );
  }

  const starts = new Set(session.recordingStarts);
  const holeS = Math.max(LIMITS.timeGapS.default, HOLE_STEPS * stepS);
  let sweeps: readonly Sweep[] | undefined;
  return {
    all,
    find: (id) => all.find(({ channel }) => channel.id === id),
    breaksBefore: (sample) => sample > 0 && (timeS[sample] - timeS[sample - 1] > holeS || starts.has(sample)),
    get sweeps() {
      return (sweeps ??= sweepsOf(signals));
    },
  };
}

/** Told in pulls alone; NaN elsewhere. */
function wheelPower(signals: Signals): Float64Array {
  const values = new Float64Array(signals.timeS.length).fill(NaN);
  for (const pull of signals.pulls) {
    const power = powerOf(signals, pull);
    if ('refused' in power) continue;
    power.points.forEach(({ sample, powerKW }, i) => {
      const last = power.points[i - 1];
      values[sample] = powerKW;
      for (let k = (last?.sample ?? sample) + 1; k < sample; k++)
        values[k] = last.powerKW + ((powerKW - last.powerKW) * (k - last.sample)) / (sample - last.sample);
    });
  }
  return values;
}

/** A name that is not taken: headers may repeat. */
function free(taken: ReadonlySet<string>, wanted: string): string {
  let name = wanted.trim();
  for (let n = 2; taken.has(name); n++) name = `${wanted.trim()} #${n}`;
  return name;
}
