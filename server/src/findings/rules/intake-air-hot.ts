// intake-air-hot: hot air under load, which brings knock and costs power.

import { formatNumber } from '../../quantities/format.js';
import { hotAirSpells } from '../../signals/distress.js';
import { operatingOf } from '../../signals/drive/operating.js';
import type { Rule } from '../finding.js';
import { pullColumns, sampleLog } from '../sampleLog.js';
import { limitText, moreText, nameOf, spellFinding, whenText, whereText, worstFew } from '../spell.js';

const live = pullColumns();

export const rule: Rule = {
  code: 'intake-air-hot',
  concerns: 'engine',
  docs: {
    title: 'Hot intake air under load',
    meaning: 'Hot air is thin, and it brings knock. Heat soak at a standstill harms nobody; the same air under load does.',
    computed:
      'Intake air at or above its limit while the engine is under load, by the hottest of several columns. A hot spell counts once, from its first loaded moment to its last, however often the driver lifts in between.',
    causes: [
      'An intercooler that is too small, soaked or without airflow',
      'Pulls too close together',
      'The sensor mounted in hot metal, or the intake drawing engine-bay air',
    ],
    checkFirst: 'Let it cool between pulls; then airflow through the intercooler.',
    limits: ['intakeAirHotC', 'intakeAirHotErrorC', 'loadManifoldPressureKPa', 'loadThrottlePercent'],
  },
  sample: () => ({
    firing: `=== a.session.csv\n${sampleLog(11, 0.2, { ...live, 'intake air temperature (°C)': (t) => Math.round(44 + Math.max(0, t - 2) * 2.2) })}`,
    quiet: `=== a.session.csv\n${sampleLog(11, 0.2, { ...live, 'intake air temperature (°C)': (t) => Math.round(t < 2 ? 55 : 38) - (t < 2 ? Math.floor(t * 5) : 0) })}`,
  }),
  session: (signals) => {
    const hot = hotAirSpells(signals);
    if (!hot) return [];
    const first = operatingOf(signals).boost.includes(1)
      ? 'the intercooler and where the air is drawn from'
      : 'where the air is drawn from and where the sensor sits';
    const { error } = hot;
    return worstFew(hot.spells, (a, b) => b.peak - a.peak).map(({ spell, more }) => {
      const bad = spell.peak >= error,
        channel = hot.channelAt(spell.peakAt);
      return spellFinding(signals, channel, spell, {
        code: 'intake-air-hot',
        severity: bad ? 'error' : 'warning',
        message:
          `${nameOf(channel)} reaches ${formatNumber(spell.peak, 0)} °C under load (${limitText(signals, bad ? 'intakeAirHotErrorC' : 'intakeAirHotC')}) ${whenText(signals, spell)}${whereText(signals, spell.peakAt)}. ` +
          `${bad ? 'Stop the pulls and let it cool; check' : 'Let it cool before the next pull; check'} ${first}.${moreText(more)}`,
        data: { peakC: spell.peak, more },
      });
    });
  },
};
