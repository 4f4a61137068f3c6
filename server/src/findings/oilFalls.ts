// Oil pressure that falls away while the engine turns fast: a reading that no healthy engine has, and the engine is lost where it is true.

import { limitOf } from '../formats/limits.js';
import { formatNumber } from '../quantities/format.js';
import { oilFalls } from '../signals/oilFall.js';
import type { Signals } from '../signals/signals.js';
import type { Finding } from './finding.js';
import { limitText, moreText, nameOf, spellFinding, whenText, whereText, worstFew } from './spell.js';

export const oilFallFindings = (signals: Signals): Finding[] => {
  const channel = signals.channel('oil-pressure');
  if (!channel) return [];
  return worstFew(oilFalls(signals), (a, b) => b.spell.peak - a.spell.peak).map(
    ({ spell: { spell, pressureKPa, usualKPa, neededKPa }, more }) => {
      const isFall = pressureKPa <= (1 - limitOf('oilPressureFallPercent', signals.vehicle.limits).value / 100) * usualKPa;
      return spellFinding(signals, channel, spell, {
        code: 'value-implausible',
        severity: isFall ? 'error' : 'warning',
        message:
          `${nameOf(channel)} ${isFall ? 'falls to' : 'stands at'} ${formatNumber(pressureKPa, 0)} kPa${isFall ? ` where this log holds ${formatNumber(usualKPa, 0)} kPa at that speed, and` : ', as it does throughout at that speed, where'} ${formatNumber(neededKPa, 0)} kPa are wanted (${limitText(signals, 'oilPressureKPaPer1000Rpm')}) ${whenText(signals, spell)}${whereText(signals, spell.peakAt)}. ` +
          `${
            isFall
              ? 'Stop the engine: a bearing without oil is lost in seconds. Check the oil level and the pickup, then the sensor.'
              : "No more pulls before it is known by another gauge: the oil's level and its pump, or the unit and the scale of this column."
          }${moreText(more)}`,
        data: { kind: isFall ? 'oil-fall' : 'oil-low', pressureKPa, usualKPa, neededKPa, more },
      });
    },
  );
};
