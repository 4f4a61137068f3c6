// Right and wrong: planted faults against findings. A fault is found by a finding of an accepted code, on its channel, that overlaps one of
// its spells.

import type { Finding } from '../../../server/src/findings/finding.js';
import type { EngineState, FaultClass, PlantedFault, Recording } from './recording.js';
import { sampleAt } from './recording.js';

export interface Verdict {
  readonly recording: string;
  readonly seed: number;
  readonly fault: PlantedFault;
  readonly found: boolean;
  /** The finding carries the first name of the accepted ones. */
  readonly firstName: boolean;
  /** Code that found it. */
  readonly code: string | undefined;
  readonly severityRight: boolean;
  readonly severity: string | undefined;
  /** Seconds from the nearest right onset; undefined where the fault has none or was not found. */
  readonly onsetErrorS: number | undefined;
  readonly onsetRight: boolean | undefined;
  /** Findings that tell of it: more than one is a fault told in pieces. */
  readonly findings: number;
}

export interface FalseAlarm {
  readonly recording: string;
  readonly seed: number;
  readonly code: string;
  readonly severity: string;
  readonly channel: string;
  readonly timeS: readonly [number, number] | undefined;
  readonly state: EngineState | '-';
  readonly message: string;
  /** The fault that it lies on under a wrong name; undefined in healthy time. */
  readonly misnames: FaultClass | undefined;
}

export interface Score {
  readonly verdicts: readonly Verdict[];
  readonly alarms: readonly FalseAlarm[];
  readonly healthyS: number;
}

/** Seconds round a spell that belong to it: a reading recovers, a delay is put back. */
const ROUND_S = 2;

const loud = (finding: Finding): boolean => finding.severity === 'error' || finding.severity === 'warning';

const onChannel = (finding: Finding, fault: PlantedFault): boolean =>
  fault.channel === undefined ||
  finding.channel === undefined ||
  finding.channel === fault.channel.quantity ||
  finding.channel.includes(fault.channel.name) ||
  // duty may be told on the pulse width that it was computed from; droop and lean are tied by the fault itself
  (fault.class === 'injector duty' && finding.channel.startsWith('injector')) ||
  // a pump feeds both banks, and the leaner one is told
  (fault.class.startsWith('lean under load') && finding.channel.startsWith('lambda'));

const overlaps = (finding: Finding, fault: PlantedFault, padS: number): boolean =>
  fault.spells.length === 0 ||
  finding.timeS === undefined ||
  fault.spells.some(([fromS, toS]) => finding.timeS![0] <= toS + padS && finding.timeS![1] >= fromS - padS);

/**
 * Limits that a healthy recording may pass all the same: then the finding is a plain fact of the log (section 9 of the reference values).
 */
const FACTS: Readonly<Partial<Record<string, number>>> = { 'intake-air-hot': 50, 'coolant-hot': 105, 'injector-duty-high': 85, knock: 2 };

const isFact = (recording: Recording, finding: Finding): boolean => {
  const limit = FACTS[finding.code];
  const channel = recording.channels.find((each) => each.quantity === finding.channel);
  if (limit === undefined || !channel || !finding.timeS || recording.faults.some((fault) => fault.class === 'unit in the header wrong'))
    return false;
  for (
    let sample = sampleAt(recording, finding.timeS[0] - 1);
    sample < recording.timeS.length && recording.timeS[sample] <= finding.timeS[1] + 1;
    sample++
  )
    if (channel.values[sample] >= limit * 0.998) return true;
  return false;
};

const rank = { error: 3, warning: 2, information: 1, hint: 0 };

const judge = (recording: Recording, fault: PlantedFault, findings: readonly Finding[]): Verdict => {
  const padS = Math.max(0.5, fault.twoSamplesS * 1.5);
  const hits = findings.filter(
    (finding) => fault.codes.includes(finding.code) && onChannel(finding, fault) && overlaps(finding, fault, padS),
  );
  // the loudest one is what a person reads; among equals the one with the right name
  const best = [...hits].sort(
    (a, b) => Number(b.code === fault.codes[0]) - Number(a.code === fault.codes[0]) || rank[b.severity] - rank[a.severity],
  )[0];
  let onsetErrorS: number | undefined;
  if (best && fault.onsets) {
    onsetErrorS = Infinity;
    for (const hit of hits) {
      if (!hit.timeS) continue;
      for (const [fromS, toS] of fault.onsets) onsetErrorS = Math.min(onsetErrorS, Math.max(0, fromS - hit.timeS[0], hit.timeS[0] - toS));
    }
  }
  return {
    recording: recording.source,
    seed: recording.seed,
    fault,
    found: best !== undefined,
    firstName: best?.code === fault.codes[0],
    code: best?.code,
    severityRight: best !== undefined && fault.severities.includes(best.severity),
    severity: best?.severity,
    onsetErrorS,
    onsetRight: onsetErrorS === undefined ? undefined : onsetErrorS <= Math.max(0.25, fault.twoSamplesS) + 1e-6,
    findings: hits.length,
  };
};

/** Seconds of the recording that no fault touches. */
const healthySeconds = (recording: Recording): number => {
  // a fault of the whole file leaves no healthy time, but for trouble codes, which say nothing of the log
  if (recording.faults.some((fault) => fault.spells.length === 0 && fault.class !== 'trouble code')) return 0;
  const last = recording.timeS[recording.timeS.length - 1];
  const spells = recording.faults
    .flatMap((fault) => fault.spells)
    .map(([fromS, toS]) => [Math.max(0, fromS - ROUND_S), Math.min(last, toS + ROUND_S)] as const)
    .sort((a, b) => a[0] - b[0]);
  let healthyS = 0,
    untilS = 0;
  for (const [fromS, toS] of spells) {
    healthyS += Math.max(0, fromS - untilS);
    untilS = Math.max(untilS, toS);
  }
  return healthyS + Math.max(0, last - untilS);
};

export const score = (recording: Recording, findings: readonly Finding[]): Score => {
  const verdicts = recording.faults.map((fault) => judge(recording, fault, findings));
  const alarms = findings.filter(loud).flatMap((finding): FalseAlarm[] => {
    const touching = recording.faults.filter((fault) => overlaps(finding, fault, Math.max(ROUND_S, fault.twoSamplesS)));
    const told = touching.some(
      (fault) => (fault.codes.includes(finding.code) && onChannel(finding, fault)) || fault.also.includes(finding.code),
    );
    // a cold sensor is a fact of a cold start, not of a fault
    if (told || finding.code === 'sensor-cold' || isFact(recording, finding)) return [];
    const timeS = finding.timeS;
    const whole = recording.faults.find((fault) => fault.spells.length === 0 && fault.class !== 'trouble code');
    const lies = touching.find((fault) => fault.spells.length > 0 && timeS !== undefined) ?? whole;
    return [
      {
        recording: recording.source,
        seed: recording.seed,
        code: finding.code,
        severity: finding.severity,
        channel: finding.channel ?? '',
        timeS,
        state: timeS ? recording.state[Math.min(recording.state.length - 1, sampleAt(recording, timeS[0]))] : '-',
        message: finding.message,
        misnames: lies?.class,
      },
    ];
  });
  return { verdicts, alarms, healthyS: healthySeconds(recording) };
};
