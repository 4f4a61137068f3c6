// coolant-hot: the engine overheats, by its coolant, its oil or its exhaust.

import { formatNumber } from '../../quantities/format.js';
import { isOfHead } from '../../formats/session/headTemperature.js';
import { limitOf, type LimitId } from '../../formats/limits.js';
import { plausibleOf } from '../../formats/plausible.js';
import type { Channel } from '../../formats/session/session.js';
import type { QuantityId } from '../../quantities/quantity.js';
import type { Signals } from '../../signals/signals.js';
import type { Finding, Rule } from '../finding.js';
import { overLimit, type OverLimit } from '../../signals/columns/overLimit.js';
import { greatestOf } from '../../signals/columns/statistics.js';
import { believedColumns, mostHeld } from '../../signals/columns/worstOf.js';
import { pullColumns, sampleLog } from '../sampleLog.js';
import { limitText, moreText, nameOf, spellFinding, whenText, worstFew } from '../spell.js';

const live = pullColumns();

interface Hot extends OverLimit {
  readonly channel: Channel;
}
/** What gets hot, by which limits, what to do at the error's and at the warning's, and what to check. */
interface Heat {
  readonly quantity: QuantityId;
  readonly warn: LimitId;
  readonly error: LimitId;
  /** Dips that do not end a spell, and the least of one. Common practice, no source. */
  readonly lasts: { readonly bridgeS: number; readonly leastS?: number };
  readonly act: readonly [atError: string, atWarning: string];
  readonly check: string;
}
const SLOW = { lasts: { bridgeS: 10 }, act: ['Stop the engine and let it cool', 'No more pulls until it has cooled'] } as const;
const HEATS: readonly Heat[] = [
  {
    quantity: 'coolant-temperature',
    warn: 'coolantHotC',
    error: 'coolantHotErrorC',
    ...SLOW,
    check: 'level, fan and thermostat',
  },
  { quantity: 'oil-temperature', warn: 'oilHotC', error: 'oilHotErrorC', ...SLOW, check: "the oil's level, grade and cooler" },
  {
    quantity: 'exhaust-gas-temperature',
    warn: 'exhaustHotC',
    error: 'exhaustHotErrorC',
    // Shorter it is noise on a thermocouple's wire; longer dips would make a spell of two readings.
    lasts: { bridgeS: 0.5, leastS: 1 },
    act: ['Lift and stop the pull', 'Keep the next pulls short'],
    check: 'lambda, ignition that comes late and boost, and what turbine and manifold stand',
  },
];
/** An exhaust without a unit may be in °F. */
export const isGuessed = ({ quantity, unitFrom }: Channel): boolean => quantity === 'exhaust-gas-temperature' && unitFrom === 'assumed';
/** A second sensor at the same time is the same heat, unless it is hotter by so much. Common practice, no source. */
const AS_HOT_C = 5;

export const rule: Rule = {
  code: 'coolant-hot',
  concerns: 'engine',
  danger: true,
  docs: {
    title: 'Coolant, oil or exhaust too hot',
    meaning:
      'Beyond its limit the coolant boils at the hot spots first: head gaskets and pistons follow, and knock comes earlier. Hot oil carries no bearing, and turbines and valves do not stand a hot exhaust.',
    computed:
      "Coolant temperature at or above its limits and within its plausible range, engine running or not. Dips shorter than ten seconds do not end a spell (an exhaust's half a second, and it must last a second). Of several columns each is judged. A column named as a cylinder head's temperature tells whether the engine is warm and is not judged here: one that air cools works far above these limits. If it is of a water-cooled engine, call it coolant-temperature under `channels` in vehicle.json. Oil and exhaust are judged so too, an exhaust whose header says no unit excepted; the exhaust's limits are for a gasoline engine's, ahead of the turbine.",
    causes: [
      'Low coolant, air in the system',
      'A thermostat, fan or pump that does not do its work',
      'A head gasket that leaks',
      'A blocked radiator or too many pulls on a hot day',
      'Of the oil: a low level, too thin a grade, a cooler that is blocked or missing',
      'Of the exhaust: a lean mixture, ignition that comes late, a misfire that burns behind the valves',
    ],
    checkFirst:
      'Stop and let it cool with the cap closed; then level, fan and thermostat; of oil its level and cooler; of an exhaust, behind a lift, lambda and ignition.',
    limits: HEATS.flatMap(({ warn, error }) => [warn, error]),
  },
  sample: () => ({
    firing: `=== a.session.csv\n${sampleLog(20, 0.5, { ...live, 'coolant temperature (°C)': (t) => Math.round(98 + t) })}`,
    quiet: `=== a.session.csv\n${sampleLog(20, 0.5, { ...live, 'coolant temperature (°C)': (t) => Math.round(90 + Math.sin(t) * 3) })}`,
  }),
  session: (signals) => HEATS.flatMap((heat) => hotSpells(signals, heat)),
};

const hotSpells = (signals: Signals, { quantity, warn, error, lasts, act, check }: Heat): Finding[] => {
  const { limits } = signals.vehicle,
    errorC = limitOf(error, limits).value,
    { high } = plausibleOf(quantity, signals.vehicle);
  // Hotter than it can be is a wire, or a torn row: told as that where it lasts.
  const possible = (values: Float64Array): Float64Array =>
    greatestOf(values) > high ? values.map((value) => (value > high ? NaN : value)) : values;
  const hot: Hot[] = [];
  if (mostHeld(signals, quantity) >= limitOf(warn, limits).value)
    for (const { channel, values } of believedColumns(signals, quantity))
      if (!isOfHead(channel) && !isGuessed(channel))
        hot.push(
          ...overLimit(signals, possible(values), limitOf(warn, limits).value, lasts)
            .filter((spell) => !hot.some((other) => spell.from < other.to && other.from < spell.to && spell.peak - other.peak < AS_HOT_C))
            .map((spell) => ({ ...spell, channel })),
        );
  return worstFew(hot, (a, b) => b.peak - a.peak).map(({ spell, more }) => {
    const bad = spell.peak >= errorC;
    return spellFinding(signals, spell.channel, spell, {
      code: 'coolant-hot',
      severity: bad ? 'error' : 'warning',
      message:
        `${nameOf(spell.channel)} reaches ${formatNumber(spell.peak, 0)} °C (${limitText(signals, bad ? error : warn)}) ${whenText(signals, spell)}. ` +
        `${act[bad ? 0 : 1]}; check ${check}.${moreText(more)}`,
      data: { peakC: spell.peak, more },
    });
  });
};
