// Air that no meter counts, told by the trims alone: where a closed loop makes it up, lambda stays at its target. A hole lets in much the
// same air at all times, so that its share of the fuel is large at idle and fades as the engine breathes more (arithmetic); a meter or an
// injector of the wrong scale asks for it everywhere.

import { limitOf } from '../../formats/limits.js';
import type { Track } from '../columns/hold.js';
import type { Readings } from '../readings.js';
import type { EventKind, Fault } from '../signals.js';
import { anyOf, spansOf, widened, without } from '../columns/spans.js';
import { median, quantileOf, sampleOf } from '../columns/statistics.js';
import { TRIM_BANKS, trimmedPercent } from '../mixture/trims.js';

/** Idle, and driving, that must be in the log before they are compared, seconds: a trim takes its time. */
const LEAST_S = 15;
/** So many times the air of idle leave a third of what a hole adds there. */
const FAR_FLOW = 3;
/** Of a long log as many are enough. */
const MOST_READINGS = 1 << 16;
/** A short-term trim that stands at nought is that of an open loop. */
const NOUGHT_PERCENT = 0.05;

/** One fault over each warm idle spell of a bank's trim; of its two the short-term one where it is logged. */
export const trimLeakAtIdle = (
  readings: Readings,
  { channel, rows, count, spacingS }: Track,
  during: (kind: EventKind) => Uint8Array,
  taken: Uint8Array,
): Fault[] => {
  const bank = TRIM_BANKS.find(({ short, long }) => channel.quantity === (readings.channel(short) ? short : long));
  // An engine that goes by its manifold pressure meters what leaks in; there the idle cells of its table are short.
  if (!bank || (readings.channel('mass-air-flow') === undefined && readings.vehicle.tables.fuel !== undefined)) return [];
  const flow = airFlow(readings),
    short = readings.channel(bank.short) && readings.clean(bank.short),
    long = readings.channel(bank.long) && readings.clean(bank.long);
  const { timeS } = readings,
    idle = during('idle');
  if (!flow || !idle.includes(1)) return [];
  const warmUp = during('warm-up');
  const left = anyOf(warmUp, widened(during('overrun'), timeS, 0, 2.5), during('engine-off'), during('cranking'), during('pull'), taken);
  const atIdle: number[] = [],
    driven: number[] = [],
    flowAtIdle: number[] = [],
    flowDriven: number[] = [];
  const every = Math.ceil(count / MOST_READINGS);
  for (let k = 0; k < count; k += every) {
    const row = rows[k],
      percent = trimmedPercent(short, long, row);
    const drawn = flow(row);
    if (left[row] === 1 || !(percent === percent && drawn > 0) || (short && Math.abs(short[row]) < NOUGHT_PERCENT)) continue;
    if (idle[row] === 1) {
      atIdle.push(percent);
      flowAtIdle.push(drawn);
    } else {
      driven.push(percent);
      flowDriven.push(drawn);
    }
  }
  const idleFlow = median(Float64Array.from(flowAtIdle)),
    isFar = (_: number, at: number): boolean => flowDriven[at] >= FAR_FLOW * idleFlow;
  const fast = Float64Array.from(driven.filter(isFar)),
    fastFlow = median(Float64Array.from(flowDriven.filter((flow) => flow >= FAR_FLOW * idleFlow))),
    perReadingS = every * Math.max(spacingS, 1e-3);
  if (atIdle.length * perReadingS < LEAST_S || fast.length * perReadingS < LEAST_S) return [];
  const leak = Float64Array.from(atIdle),
    middle = median(leak),
    elsewhere = median(fast),
    set = readings.vehicle.limits;
  const leaksFrom = limitOf('airLeakIdleTrimPercent', set).value,
    agrees = limitOf('airLeakElsewhereTrimPercent', set).value;
  const leftThere = (middle * idleFlow) / fastFlow;
  if (!(
    middle > leaksFrom &&
    quantileOf(sampleOf(leak), 0.2) > 0.6 * leaksFrom &&
    Math.abs(elsewhere - leftThere) < agrees &&
    middle - elsewhere > 0.8 * leaksFrom
  ))
    return [];
  return spansOf(without(idle, warmUp), timeS, { recordings: readings.recordings, leastS: 2 }).map((span): Fault => ({
    kind: 'implausible',
    channel,
    shape: 'air-leak',
    value: middle,
    ...span,
    data: { atIdle: middle, elsewhere, times: FAR_FLOW },
  }));
};

/** As metered, else in a measure of its own, by the charge and the speed; undefined where nothing tells it. */
const airFlow = (readings: Readings): ((row: number) => number) | undefined => {
  const flow = readings.channel('mass-air-flow') && readings.clean('mass-air-flow');
  if (flow) return (row) => flow[row];
  const rpm = readings.clean('engine-speed'),
    charge = readings.channel('manifold-pressure')
      ? readings.clean('manifold-pressure')
      : readings.channel('engine-load') && readings.clean('engine-load');
  return rpm && charge ? (row) => rpm[row] * charge[row] : undefined;
};
