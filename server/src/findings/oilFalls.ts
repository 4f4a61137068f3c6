// Oil pressure that falls away while the engine turns fast: a reading that no healthy engine has, and the engine is lost where it is true.

import { formatNumber } from '../quantities/format.js';
import { oilFalls } from '../signals/oilFall.js';
import type { Signals } from '../signals/signals.js';
import type { Finding } from './finding.js';
import { limitText, moreText, nameOf, spellFinding, whenText, whereText, worstFew } from './spell.js';

export const oilFallFindings = (signals: Signals): Finding[] => {
  const channel = signals.channel('oil-pressure');
  if (!channel) return [];
  return worstFew(oilFalls(signals), (a, b) => b.spell.peak - a.spell.peak).map(
    ({ spell: { spell, pressureKPa, usualKPa, neededKPa }, more }) =>
      spellFinding(signals, channel, spell, {
        code: 'value-implausible',
        severity: 'error',
        message:
          `${nameOf(channel)} falls to ${formatNumber(pressureKPa, 0)} kPa where this log holds ${formatNumber(usualKPa, 0)} kPa at that speed, and ${formatNumber(neededKPa, 0)} kPa are wanted (${limitText(signals, 'oilPressureKPaPer1000Rpm')}) ${whenText(signals, spell)}${whereText(signals, spell.peakAt)}. ` +
          `Stop the engine: a bearing without oil is lost in seconds. Check the oil level and the pickup, then the sensor.${moreText(more)}`,
        data: { kind: 'oil-fall', pressureKPa, usualKPa, neededKPa, more },
      }),
  );
};
