// Oil pressure that falls away while the engine turns fast: a reading that no healthy engine has, and the engine is lost where it is true.

import { formatNumber } from '../quantities/format.js';
import { oilFalls, type OilFall } from '../signals/oilFall.js';
import type { Signals } from '../signals/signals.js';
import type { Finding } from './finding.js';
import { limitText, moreText, nameOf, spellFinding, whenText, whereText, worstFew } from './spell.js';

export const oilFallFindings = (signals: Signals): Finding[] => {
  const channel = signals.channel('oil-pressure');
  if (!channel) return [];
  return worstFew(oilFalls(signals), (a, b) => Number(b.isLost) - Number(a.isLost) || b.spell.peak - a.spell.peak).map(
    ({ spell: oil, more }) => {
      const { spell, pressureKPa, usualKPa, neededKPa, isLost } = oil;
      return spellFinding(signals, channel, spell, {
        code: 'value-implausible',
        severity: isLost ? 'error' : 'warning',
        message:
          `${nameOf(channel)} ${standsWords(oil)} ${formatNumber(neededKPa, 0)} kPa are wanted (${limitText(signals, 'oilPressureKPaPer1000Rpm')}) ${whenText(signals, spell)}${whereText(signals, spell.peakAt)}. ` +
          `${isLost ? STOP : ASK}${moreText(more)}`,
        data: { kind: isLost ? 'oil-fall' : 'oil-low', pressureKPa, ...(usualKPa > 0 ? { usualKPa } : {}), neededKPa, more },
      });
    },
  );
};

const STOP = 'Stop the engine: a bearing without oil is lost in seconds. Check the oil level and the pickup, then the sensor.';
const ASK = "No more pulls before it is known by another gauge: the oil's level and its pump, or the unit and the scale of this column.";

const standsWords = ({ pressureKPa, usualKPa, isUsual }: OilFall): string => {
  const kPa = `${formatNumber(pressureKPa, 0)} kPa`;
  if (isUsual) return `stands at ${kPa}, as it does throughout at that speed, where`;
  return usualKPa > 0
    ? `falls to ${kPa} where this log holds ${formatNumber(usualKPa, 0)} kPa at that speed, and`
    : `stands at ${kPa} where`;
};
