// rich-under-load: far more fuel than asked for while the engine works.

import { formatNumber } from '../../quantities/format.js';
import { isBurntOtherwise, leanTarget } from '../../fueling/doubts/leanTarget.js';
import { TRIM_BANKS, trimmedPercent } from '../../signals/mixture/trims.js';
import { median } from '../../signals/columns/statistics.js';
import type { Signals } from '../../signals/signals.js';
import { mixtureOf, type MixtureSpell } from '../mixture.js';
import type { Rule } from '../finding.js';
import { pullColumns, sampleLog, unrest } from '../sampleLog.js';
import { apartText, limitText, limitWords, moreText, nameOf, spellFinding, whenText, whereText, worstFew } from '../spell.js';

const live = pullColumns();
const reading =
  (more: number) =>
  (t: number): number =>
    live['target lambda'](t - 0.1) - (t >= 5 && t < 7 ? more : 0) + unrest(t, 0.006);

/** Toward a target that is itself too lean for this load no fuel comes out, nor where without the trims there were too little of it. */
const adviceOf = (signals: Signals, { target, worstAt, lambda, channel, absolute }: MixtureSpell): string => {
  const kPa = signals.held('manifold-pressure')?.[worstAt],
    throttlePercent = signals.held('throttle')?.[worstAt];
  const unsafe = isBurntOtherwise(signals.vehicle, undefined)
    ? undefined
    : leanTarget(target, { kPa, throttlePercent }, signals.vehicle.limits);
  if (unsafe)
    return ` But the target itself is leaner than it may be at this load (${limitWords(unsafe.limit)}): take no fuel out here, put in a richer target first.`;
  // Of a bank whose trims are not logged the other's speak, and where none is read what they mostly are.
  const banks = TRIM_BANKS.map(({ short, long }) => [signals.held(short), signals.held(long)]),
    own = channel.quantity === 'lambda-2' && banks[1].some(Boolean) ? banks[1] : banks[0],
    [short, long] = own.map((values) => values && Float64Array.of(Number.isNaN(values[worstAt]) ? median(values) : values[worstAt])),
    trim = trimmedPercent(short, long, 0);
  return !absolute && lambda * (1 + trim / 100) > target
    ? ` But the fuel trims add ${formatNumber(trim, 0)} % here, and without them it would be lean: find first what they make up for (an air leak, fuel pressure, the air meter), and take nothing out before.`
    : ' Check fuel pressure, then take fuel out here in small steps.';
};

export const rule: Rule = {
  code: 'rich-under-load',
  concerns: 'engine',
  docs: {
    title: 'Rich under load',
    meaning:
      'Fuel that does not burn costs power, fouls plugs, thins the oil and washes the cylinder walls. It does not ruin an engine in seconds as lean does.',
    computed:
      'As lean-under-load, the other way: the mean over `richUnderLoadS` below the richest target of the delay band must pass `richUnderLoad`, or lambda must stay below `richLambda` whatever the target. Warm-up and the moment behind a tip-in are left out. Where the target is itself leaner than `target-unsafe` allows at that load, that is said, and no fuel is to come out; nor where it would be lean without what the fuel trims add.',
    causes: [
      'Fuel table cells too high',
      'A regulator stuck high or a blocked return',
      'An injector that hangs open',
      'A boost or load reading that is too high',
    ],
    checkFirst: 'Fuel pressure at idle and under load, then the table here.',
    limits: [
      'richUnderLoad',
      'richUnderLoadS',
      'richLambda',
      'loadManifoldPressureKPa',
      'loadThrottlePercent',
      'targetFullLoadPressureKPa',
      'targetFullLoadLambda',
      'targetUnderLoadLambda',
    ],
  },
  sample: () => ({
    firing: `=== a.session.csv\n${sampleLog(11, 0.1, { ...live, lambda: reading(0.13) })}`,
    quiet: `=== a.session.csv\n${sampleLog(11, 0.1, { ...live, lambda: reading(0.03) })}`,
  }),
  session: (signals) =>
    worstFew(mixtureOf(signals).rich, (a, b) => a.lambda - b.lambda).map(({ spell, more }) =>
      spellFinding(signals, spell.channel, spell, {
        code: 'rich-under-load',
        severity: 'warning',
        message:
          `Rich under load: ${nameOf(spell.channel)} falls to λ ${formatNumber(spell.lambda, 2)}` +
          (spell.target === spell.target
            ? `, ${apartText(spell.target, spell.lambda, 2)} under its target of λ ${formatNumber(spell.target, 2)}`
            : '') +
          ` (${limitText(signals, spell.absolute ? 'richLambda' : 'richUnderLoad')}), ${whenText(signals, spell)}${whereText(signals, spell.worstAt)}.${adviceOf(signals, spell)}${moreText(more)}`,
        data: { lambda: spell.lambda, target: Number.isFinite(spell.target) ? spell.target : null, more },
      }),
    ),
};
