// coolant-hot: the engine overheats.

import { formatNumber } from '../../quantities/format.js';
import { isOfHead } from '../../formats/session/headTemperature.js';
import { limitOf } from '../../formats/limits.js';
import { plausibleOf } from '../../formats/plausible.js';
import type { Channel } from '../../formats/session/session.js';
import type { Rule } from '../finding.js';
import { overLimit, type OverLimit } from '../../signals/columns/overLimit.js';
import { greatestOf } from '../../signals/columns/statistics.js';
import { believedColumns } from '../../signals/columns/worstOf.js';
import { pullColumns, sampleLog } from '../sampleLog.js';
import { limitText, moreText, nameOf, spellFinding, whenText, worstFew } from '../spell.js';

const live = pullColumns();

interface Hot extends OverLimit {
  readonly channel: Channel;
}
/** A second sensor at the same time is the same heat, unless it is hotter by so much. Common practice, no source. */
const AS_HOT_C = 5;

export const rule: Rule = {
  code: 'coolant-hot',
  concerns: 'engine',
  danger: true,
  docs: {
    title: 'Coolant too hot',
    meaning: 'Beyond its limit the coolant boils at the hot spots first: head gaskets and pistons follow, and knock comes earlier.',
    computed:
      "Coolant temperature at or above its limits and within its plausible range, engine running or not. Dips shorter than ten seconds do not end a spell. Of several columns each is judged. A column named as a cylinder head's temperature tells whether the engine is warm and is not judged here: one that air cools works far above these limits. If it is of a water-cooled engine, call it coolant-temperature under `channels` in vehicle.json.",
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
    const { limits } = signals.vehicle;
    const error = limitOf('coolantHotErrorC', limits).value,
      { high } = plausibleOf('coolant-temperature', signals.vehicle);
    // Hotter than it can be is a wire, or a torn row: told as that where it lasts.
    const possible = (values: Float64Array): Float64Array =>
      greatestOf(values) > high ? values.map((value) => (value > high ? NaN : value)) : values;
    const hot: Hot[] = [];
    for (const { channel, values } of believedColumns(signals, 'coolant-temperature'))
      if (!isOfHead(channel))
        hot.push(
          ...overLimit(signals, possible(values), limitOf('coolantHotC', limits).value, { bridgeS: 10 })
            .filter((spell) => !hot.some((other) => spell.from < other.to && other.from < spell.to && spell.peak - other.peak < AS_HOT_C))
            .map((spell) => ({ ...spell, channel })),
        );
    return worstFew(hot, (a, b) => b.peak - a.peak).map(({ spell, more }) => {
      const bad = spell.peak >= error;
      return spellFinding(signals, spell.channel, spell, {
        code: 'coolant-hot',
        severity: bad ? 'error' : 'warning',
        message:
          `${nameOf(spell.channel)} reaches ${formatNumber(spell.peak, 0)} °C (${limitText(signals, bad ? 'coolantHotErrorC' : 'coolantHotC')}) ${whenText(signals, spell)}. ` +
          `${bad ? 'Stop the engine and let it cool' : 'No more pulls until it has cooled'}; check level, fan and thermostat.${moreText(more)}`,
        data: { peakC: spell.peak, more },
      });
    });
  },
};
