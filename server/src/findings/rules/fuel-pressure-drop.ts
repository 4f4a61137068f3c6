// fuel-pressure-drop: the pressure over the injectors falls when fuel is wanted most.

import { formatNumber } from '../../quantities/format.js';
import { pressureSpells } from '../../signals/distress.js';
import { droopsOf, type DroopOf } from '../../signals/droop.js';
import type { OverLimit } from '../../signals/columns/overLimit.js';
import type { Rule } from '../finding.js';
import { pullColumns, sampleLog, unrest } from '../sampleLog.js';
import { limitText, moreText, nameOf, spellFinding, whenText, whereText, worstFew } from '../spell.js';

const live = pullColumns();
const rail =
  (fall: number) =>
  (t: number): number =>
    300 +
    live['manifold pressure (kPa)'](t) -
    unrest(t, 0.6) -
    101 +
    1.2 * unrest(t + 2, 1) -
    (t > 5 && t < 8 ? fall * Math.min(1, t - 5) : 0);

const isSame = (a: OverLimit, b: OverLimit): boolean => a.from < b.to && b.from < a.to;

export const rule: Rule = {
  code: 'fuel-pressure-drop',
  concerns: 'engine',
  danger: true,
  docs: {
    title: 'Fuel pressure falls under load',
    meaning:
      'Flow through an injector goes with the square root of the pressure over it: 10 % less pressure is 5 % less fuel, and the mixture goes lean by as much. A table cannot fix a pump.',
    computed:
      'First the log teaches whether the rail follows the manifold (at light load, by the medians of bands of 4 kPa, so that minutes of idling weigh no more than the cruise). If it does, the pressure over the injector (rail gauge + barometer − manifold) must hold its light-load median; if it does not, the gauge pressure itself must, since the difference then falls with boost by design. ' +
      'The rail may answer the manifold up to 0.35 s late. The mean over 0.3 s is held against the limits for `fuelPressureDropS` or longer. Without manifold pressure the rail is held against the most that it held since the throttle was opened wide, and only a fall beyond `fuelPressureDropErrorPercent` is told, since a boost that fades takes some of it along; direct injection (above 1500 kPa) is left alone. Of several columns each is judged; what they show together is told once, by the greatest. Orifice law: Q2 = Q1 √(Δp2 / Δp1).',
    causes: [
      'A pump at its end, or its wiring, relay or ground',
      'A clogged filter or strainer',
      'A regulator that lags or loses its vacuum hose',
      'A tank run low in a corner',
    ],
    checkFirst: 'Voltage at the pump under load, then the filter, then the pump.',
    limits: ['fuelPressureDropPercent', 'fuelPressureDropErrorPercent', 'fuelPressureDropS'],
  },
  sample: () => ({
    firing: `=== a.session.csv\n${sampleLog(16, 0.1, { ...live, 'manifold pressure (kPa)': (t) => live['manifold pressure (kPa)'](t) + (t < 2 || t > 8 ? 15 * Math.sin(t) : 0), 'fuel pressure (kPa gauge)': (t) => rail(45)(t) + (t < 2 || t > 8 ? 15 * Math.sin(t) : 0) }, 1)}`,
    quiet: `=== a.session.csv\n${sampleLog(16, 0.1, { ...live, 'manifold pressure (kPa)': (t) => live['manifold pressure (kPa)'](t) + (t < 2 || t > 8 ? 15 * Math.sin(t) : 0), 'fuel pressure (kPa gauge)': (t) => rail(0)(t) + (t < 2 || t > 8 ? 15 * Math.sin(t) : 0) }, 1)}`,
  }),
  session: (signals) => {
    let told: (OverLimit & DroopOf & { readonly error: number })[] = [];
    for (const column of droopsOf(signals)) {
      const { spells, error } = pressureSpells(signals, column.droop);
      // One fall is told once, by the one that shows most of it, the first of equals.
      const left = told.filter((other) => !spells.some((spell) => isSame(spell, other) && spell.peak > other.peak));
      told = [
        ...left,
        ...spells
          .filter((spell) => !told.some((other) => isSame(spell, other) && other.peak >= spell.peak))
          .map((spell) => ({ ...spell, ...column, error })),
      ];
    }
    return worstFew(told, (a, b) => b.peak - a.peak).map(({ spell, more }) => {
      const { channel, droop } = spell,
        bad = spell.peak >= spell.error;
      return spellFinding(signals, channel, spell, {
        code: 'fuel-pressure-drop',
        severity: bad ? 'error' : 'warning',
        message:
          `${nameOf(channel)}: the ${droop.referenced ? 'pressure over the injectors' : 'rail pressure'} falls by ${formatNumber(spell.peak, 0)} % of its ${formatNumber(droop.baseKPa, 0)} kPa (${limitText(signals, bad ? 'fuelPressureDropErrorPercent' : 'fuelPressureDropPercent')}) ${whenText(signals, spell)}${whereText(signals, spell.peakAt)}. ` +
          `That alone takes ${formatNumber((1 - Math.sqrt(Math.max(0, 1 - spell.peak / 100))) * 100, 0)} % of the fuel. ${bad ? 'Stop the pulls; check' : 'Check'} pump voltage under load, then filter and pump.${moreText(more)}`,
        data: { peakPercent: spell.peak, baseKPa: droop.baseKPa, referenced: droop.referenced, more },
      });
    });
  },
};
