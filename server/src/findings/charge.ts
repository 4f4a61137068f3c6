// A battery that is not charged while the engine turns: injectors open later at less voltage and the pump turns slower, so fuel goes short.

import { formatNumber } from '../quantities/format.js';
import { believed } from '../signals/drive/operating.js';
import { overLimit } from '../signals/columns/overLimit.js';
import { RUNNING_RPM } from '../signals/faults/atOneSpeed.js';
import { above, mark } from '../signals/columns/marks.js';
import { marksWithin } from '../signals/columns/spans.js';
import { quantileOf, sampleOf } from '../signals/columns/statistics.js';
import type { Signals } from '../signals/signals.js';
import type { Finding } from './finding.js';
import { moreText, nameOf, spellFinding, whenText, worstFew } from './spell.js';

/**
 * A system of 12 V holds 13.2 to 14.8 V on a turning engine, one that saves fuel no less than a full battery's 12.5 V; one of 6 V is
 * below 8. Common practice, no source.
 */
const EMPTY_V = 12,
  LEAST_V = 8,
  TURNS_RPM = 1500,
  LASTS_S = 10;

export const chargeFindings = (signals: Signals): Finding[] => {
  const channel = signals.channel('battery-voltage'),
    volts = believed(signals, 'battery-voltage'),
    rpm = believed(signals, 'engine-speed');
  if (!channel || !volts || !rpm) return [];
  const missing = volts.map((each, i) => (each > LEAST_V && rpm[i] > RUNNING_RPM ? EMPTY_V - each : NaN)),
    atSpeed = mark(rpm, above(TURNS_RPM));
  // Slowly turning too, where an alternator at work may give as little: long enough at speed, and in most readings there.
  const empty = overLimit(signals, missing, Number.MIN_VALUE, { leastS: LASTS_S }).filter(
    ({ from, to }) =>
      marksWithin(atSpeed, from, to) * signals.stepS >= LASTS_S && quantileOf(sampleOf(missing, from, to, atSpeed), 0.5) > 0,
  );
  return worstFew(empty, (a, b) => b.peak - a.peak).map(({ spell, more }) =>
    spellFinding(signals, channel, spell, {
      code: 'value-implausible',
      severity: 'warning',
      message:
        `${nameOf(channel)} stands at ${formatNumber(EMPTY_V - spell.peak, 1)} V ${whenText(signals, spell)} with the engine turning: the battery is not charged. ` +
        `Injectors open later by it and the pump turns slower, so fuel goes short. Check alternator, belt and ground before the next pull.${moreText(more)}`,
      data: { kind: 'not-charged', voltageV: EMPTY_V - spell.peak, more },
    }),
  );
};
