// injector-duty-high: the injectors have no room left.

import { formatNumber } from '../../quantities/format.js';
import { dutySpells } from '../../signals/distress.js';
import type { Rule } from '../finding.js';
import { pullColumns, sampleLog } from '../sampleLog.js';
import { limitText, moreText, nameOf, spellFinding, whenText, whereText, worstFew } from '../spell.js';

const live = pullColumns();
const pulse =
  (top: number) =>
  (t: number): number =>
    t >= 2 && t < 8 ? ((top * 1200) / 6000) * Math.min(1, 0.6 + (t - 2) * 0.08) : 2.5;

export const rule: Rule = {
  code: 'injector-duty-high',
  concerns: 'engine',
  danger: true,
  docs: {
    title: 'Injectors near the end of their duty',
    meaning:
      'An injector that is open nearly all the time can give no more fuel and no longer closes cleanly. Past that the engine runs lean whatever the table says.',
    computed:
      'Duty as logged, else pulse width × rpm / 1200 (one injection each 720°); of several columns, injector by injector or bank by bank, the greatest. A warning from `maxDutyPercent` of the injectors in vehicle.json, or `injectorDutyPercent`; an error from `injectorDutyErrorPercent`. Above 100 % is not possible: the injector is open all the time, or it injects twice a cycle and the true share is double.',
    causes: [
      'Injectors too small for the power',
      'Fuel pressure too low, so that they must stay open longer',
      'A fuel that needs more volume, such as ethanol',
      'A reading for another number of injections a cycle',
    ],
    checkFirst: 'Fuel pressure under load; then injector size against power and fuel.',
    limits: ['injectorDutyPercent', 'injectorDutyErrorPercent'],
  },
  sample: () => ({
    firing: `=== a.session.csv\n${sampleLog(11, 0.2, { ...live, 'injector pulse width (ms)': pulse(98) })}`,
    quiet: `=== a.session.csv\n${sampleLog(11, 0.2, { ...live, 'injector pulse width (ms)': pulse(70) })}`,
  }),
  session: (signals) => {
    const duty = dutySpells(signals);
    if (!duty) return [];
    const { own, error } = duty;
    return worstFew(duty.spells, (a, b) => b.peak - a.peak).map(({ spell, more }) => {
      const bad = spell.peak >= error,
        channel = duty.channelAt(spell.peakAt);
      const limit =
        !bad && own !== undefined
          ? `limit ${own} %, maxDutyPercent in vehicle.json`
          : limitText(signals, bad ? 'injectorDutyErrorPercent' : 'injectorDutyPercent');
      return spellFinding(signals, channel, spell, {
        code: 'injector-duty-high',
        severity: bad ? 'error' : 'warning',
        message:
          `Injector duty reaches ${formatNumber(spell.peak, 0)} %${duty.computed ? ` (from ${nameOf(channel)} and engine speed)` : ''} (${limit}) ${whenText(signals, spell)}${whereText(signals, spell.peakAt)}. ` +
          `${spell.peak > 100 ? 'More than 100 % is not possible: the injectors are open all the time. ' : ''}Check fuel pressure first, then whether the injectors are big enough.${moreText(more)}`,
        data: { peakPercent: spell.peak, computed: duty.computed, more },
      });
    });
  },
};
