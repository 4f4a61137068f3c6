// knock: the knock control takes spark back.

import { formatNumber } from '../../quantities/format.js';
import { knockSpells } from '../../signals/distress.js';
import type { Rule } from '../finding.js';
import { pullColumns, sampleLog } from '../sampleLog.js';
import { limitText, moreText, nameOf, spellFinding, whenText, whereText, worstFew } from '../spell.js';

const live = pullColumns();
const retard =
  (peak: number) =>
  (t: number): number =>
    t >= 5 ? Math.max(0, peak - Math.floor((t - 5) * 2)) : 0;

export const rule: Rule = {
  code: 'knock',
  concerns: 'engine',
  danger: true,
  docs: {
    title: 'Knock',
    meaning:
      'The engine computer heard knock and took spark back. Knock breaks pistons and ring lands; the retard is its cry for help, not the cure.',
    computed:
      'Knock retard (written as a positive or a negative number; where several columns log it, cylinder by cylinder, the greatest of them) at or above its limits while the engine runs. Spells parted by less than a second are one.',
    causes: [
      'Too much spark or boost for the fuel',
      'Lean mixture under load',
      'Hot intake air or a hot engine',
      'Worse fuel than the calibration was made for',
      'Oil in the intake, carbon, or a noise that is not knock',
    ],
    checkFirst: 'Lift. Then fuel quality, intake temperature and lambda in that pull, before spark.',
    limits: ['knockRetardDeg', 'knockRetardErrorDeg'],
  },
  sample: () => ({
    firing: `=== a.session.csv\n${sampleLog(11, 0.2, { ...live, 'knock retard (deg)': retard(5) })}`,
    quiet: `=== a.session.csv\n${sampleLog(11, 0.2, { ...live, 'knock retard (deg)': retard(1) })}`,
  }),
  session: (signals) => {
    const knock = knockSpells(signals);
    if (!knock) return [];
    const { error, channelAt } = knock,
      isOne = signals.session.channels.filter(({ quantity }) => quantity === 'knock-retard').length === 1;
    return worstFew(knock.spells, (a, b) => b.peak - a.peak).map(({ spell, more }) => {
      const bad = spell.peak >= error,
        channel = channelAt(spell.peakAt);
      return spellFinding(signals, channel, spell, {
        code: 'knock',
        severity: bad ? 'error' : 'warning',
        message:
          `Knock: ${formatNumber(spell.peak, 1)}° of spark taken back${isOne ? '' : ` by ${nameOf(channel)}`} (${limitText(signals, bad ? 'knockRetardErrorDeg' : 'knockRetardDeg')}) ${whenText(signals, spell)}${whereText(signals, spell.peakAt)}. ` +
          `${bad ? 'Stop the pull; check' : 'Check'} fuel quality, lambda and intake temperature here before spark.${moreText(more)}`,
        data: { peakDeg: spell.peak, more },
      });
    });
  },
};
