// coolant-hot: the engine overheats.

import { formatNumber } from '../../quantities/format.js';
import { isOfHead } from '../../formats/session/headTemperature.js';
import { limitOf } from '../../formats/limits.js';
import { plausibleOf } from '../../formats/plausible.js';
import { believed } from '../../signals/drive/operating.js';
import type { Rule } from '../finding.js';
import { overLimit } from '../../signals/columns/overLimit.js';
import { greatestOf } from '../../signals/columns/statistics.js';
import { pullColumns, sampleLog } from '../sampleLog.js';
import { limitText, moreText, nameOf, spellFinding, whenText, worstFew } from '../spell.js';

const live = pullColumns();

export const rule: Rule = {
  code: 'coolant-hot',
  concerns: 'engine',
  danger: true,
  docs: {
    title: 'Coolant too hot',
    meaning: 'Beyond its limit the coolant boils at the hot spots first: head gaskets and pistons follow, and knock comes earlier.',
    computed:
      "Coolant temperature at or above its limits and within its plausible range, engine running or not. Dips shorter than ten seconds do not end a spell. A column named as a cylinder head's temperature tells whether the engine is warm and is not judged here: one that air cools works far above these limits. If it is of a water-cooled engine, call it coolant-temperature under `channels` in vehicle.json.",
    causes: [
      'Low coolant, air in the system',
      'A thermostat, fan or pump that does not do its work',
      'A head gasket that leaks',
      'A blocked radiator or too many pulls on a hot day',
    ],
    checkFirst: 'Stop and let it cool with the cap closed; then level, fan and thermostat.',
    limits: ['coolantHotC', 'coolantHotErrorC'],
  },
  sample: () => ({
    firing: `=== a.session.csv\n${sampleLog(20, 0.5, { ...live, 'coolant temperature (°C)': (t) => Math.round(98 + t) })}`,
    quiet: `=== a.session.csv\n${sampleLog(20, 0.5, { ...live, 'coolant temperature (°C)': (t) => Math.round(90 + Math.sin(t) * 3) })}`,
  }),
  session: (signals) => {
    const channel = signals.channel('coolant-temperature'),
      coolant = believed(signals, 'coolant-temperature');
    if (!channel || !coolant || isOfHead(channel)) return [];
    const { limits } = signals.vehicle;
    const error = limitOf('coolantHotErrorC', limits).value,
      { high } = plausibleOf('coolant-temperature', signals.vehicle);
    // Hotter than it can be is a wire, or a torn row: told as that where it lasts.
    const heat = greatestOf(coolant) > high ? coolant.map((value) => (value > high ? NaN : value)) : coolant;
    return worstFew(overLimit(signals, heat, limitOf('coolantHotC', limits).value, { bridgeS: 10 }), (a, b) => b.peak - a.peak).map(
      ({ spell, more }) => {
        const bad = spell.peak >= error;
        return spellFinding(signals, channel, spell, {
          code: 'coolant-hot',
          severity: bad ? 'error' : 'warning',
          message:
            `${nameOf(channel)} reaches ${formatNumber(spell.peak, 0)} °C (${limitText(signals, bad ? 'coolantHotErrorC' : 'coolantHotC')}) ${whenText(signals, spell)}. ` +
            `${bad ? 'Stop the engine and let it cool' : 'No more pulls until it has cooled'}; check level, fan and thermostat.${moreText(more)}`,
          data: { peakC: spell.peak, more },
        });
      },
    );
  },
};
