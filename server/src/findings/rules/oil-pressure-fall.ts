// oil-pressure-fall: the oil pressure falls away while the engine turns fast.

import { formatNumber } from '../../quantities/format.js';
import { oilFalls } from '../../signals/oilFall.js';
import type { Rule } from '../finding.js';
import { sampleLog, unrest } from '../sampleLog.js';
import { limitText, moreText, nameOf, spellFinding, whenText, whereText, worstFew } from '../spell.js';

const rpm = (t: number): number => 4000 + 1200 * Math.sin(t / 3) + unrest(t, 9);
const drive = (fallsTo: number): string => `=== a.session.csv\n${sampleLog(60, 0.1, {
  'engine speed (rpm)': rpm, 'throttle (%)': (t) => 40 + 20 * Math.sin(t / 3) + unrest(t, 0.4), 'oil pressure (kPa gauge)': (t) => (t > 40 && t < 41 ? fallsTo : 380 + rpm(t) / 100) + unrest(t, 4),
}, 1)}`;

export const rule: Rule = {
  code: 'oil-pressure-fall', concerns: 'engine', danger: true,
  docs: {
    title: 'Oil pressure falls away',
    meaning: 'Where the pickup draws air the film is gone within turns of the crank, and the bearing with it.',
    computed: 'From 2500 rpm on, 0.3 s and more of `oilPressureFallPercent` below the log\'s own middle at that speed (of 500 rpm), and below `oilPressureKPaPer1000Rpm`. Its height otherwise is not judged; nought is a loose wire\'s.',
    causes: ['Oil away from the pickup in a corner', 'Too little oil', 'A relief valve that sticks', 'The gauge\'s sensor or its wire'],
    checkFirst: 'Stop the engine. Level first, then a mechanical gauge before it is driven on.',
    limits: ['oilPressureFallPercent', 'oilPressureKPaPer1000Rpm'],
  },
  sample: () => ({ firing: drive(60), quiet: drive(300) }),
  session: (signals) => {
    const channel = signals.channel('oil-pressure'), falls = oilFalls(signals);
    if (!channel) return [];
    return worstFew(falls, (a, b) => b.spell.peak - a.spell.peak).map(({ spell: { spell, pressureKPa, usualKPa, neededKPa }, more }) => spellFinding(signals, channel, spell, {
      code: 'oil-pressure-fall', severity: 'error',
      message: `${nameOf(channel)} falls to ${formatNumber(pressureKPa, 0)} kPa where this log holds ${formatNumber(usualKPa, 0)} kPa at that speed, and ${formatNumber(neededKPa, 0)} kPa are wanted (${limitText(signals, 'oilPressureKPaPer1000Rpm')}) ${whenText(signals, spell)}${whereText(signals, spell.peakAt)}. `
        + `Stop the engine: a bearing without oil is lost in seconds. Check the oil level and the pickup, then the sensor.${moreText(more)}`,
      data: { pressureKPa, usualKPa, neededKPa, more },
    }));
  },
};
