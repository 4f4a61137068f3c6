// A session's recordings and the pulls in them, each with its worst moment, as the tree of the vehicles shows them.

import type { PullNode, RecordingNode } from '../../protocol/vehicle.js';
import type { QuantityId } from '../../quantities/quantity.js';
import type { Pull, Signals } from '../../signals/signals.js';

export function recordingsOf(signals: Signals): RecordingNode[] {
  const {
    timeS,
    session: { places },
  } = signals;
  const pulls = signals.pulls.map((pull, index) => pullNode(signals, pull, index + 1));
  return signals.recordings
    .filter(({ from, to }) => to > from)
    .map(({ from, to }, index) => ({
      number: index + 1,
      fromS: timeS[from]!,
      toS: timeS[to - 1]!,
      line: places.lineOf(from),
      pulls: pulls.filter((_, number) => signals.pulls[number]!.from >= from && signals.pulls[number]!.from < to),
    }));
}

function pullNode(signals: Signals, pull: Pull, number: number): PullNode {
  const {
    timeS,
    session: { places },
  } = signals;
  const { worstAt, worstLambda, worstTargetLambda, peakManifoldPressureKPa, leanS } = pull;
  const there = (quantity: QuantityId): number | undefined => {
    const value = worstAt === undefined ? NaN : (signals.held(quantity)?.[worstAt] ?? NaN);
    return Number.isFinite(value) ? value : undefined;
  };
  return withoutGaps({
    number,
    line: places.lineOf(pull.from),
    fromS: timeS[pull.from]!,
    toS: timeS[pull.to - 1]!,
    fromRpm: pull.fromRpm,
    toRpm: pull.toRpm,
    peakManifoldPressureKPa,
    leanS,
    worst:
      worstAt === undefined || worstLambda === undefined
        ? undefined
        : withoutGaps({
            lambda: worstLambda,
            targetLambda: worstTargetLambda,
            timeS: timeS[worstAt]!,
            line: places.lineOf(worstAt),
            rpm: there('engine-speed'),
            manifoldPressureKPa: there('manifold-pressure'),
          }),
  });
}

/** Keys without a value are left out, as JSON would. */
const withoutGaps = <T extends object>(value: { [Key in keyof T]: T[Key] | undefined }): T =>
  Object.fromEntries(Object.entries(value).filter(([, each]) => each !== undefined)) as T;
