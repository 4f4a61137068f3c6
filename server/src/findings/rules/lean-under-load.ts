// lean-under-load: the mixture is leaner than its target while the engine works hard. The finding that engines live or die by.

import { formatNumber } from '../../quantities/format.js';
import { limitOf } from '../../formats/limits.js';
import { isOfCylinder } from '../../formats/session/channelNames.js';
import { mixtureOf, type MixtureSpell } from '../mixture.js';
import { droopOf } from '../../signals/droop.js';
import { atLeast, believed } from '../../signals/drive/operating.js';
import { ASSUMED_TARGET_BOOST, ASSUMED_TARGET_LOAD } from '../../signals/mixture/offTarget.js';
import type { Signals } from '../../signals/signals.js';
import { launchWords } from '../launches.js';
import type { Rule } from '../finding.js';
import { pullColumns, sampleLog, unrest } from '../sampleLog.js';
import { apartText, limitText, moreText, nameOf, spellFinding, whenText, whereText, worstFew } from '../spell.js';

const against = (signals: Signals, spell: MixtureSpell): string => {
  if (spell.absolute && spell.byLambda <= 0.05) return `under boost (${limitText(signals, 'leanUnderBoostLambda')}, whatever the target)`;
  const limit = limitText(signals, spell.error ? 'leanUnderLoad' : 'leanUnderLoadWarning');
  const target =
    spell.targetFrom === 'assumed'
      ? `the λ ${formatNumber(spell.target, 2)} assumed for want of a target`
      : spell.targetFrom === 'pull'
        ? `the λ ${formatNumber(spell.target, 2)} that this pull's own mixture before allows`
        : `its target of λ ${formatNumber(spell.target, 2)}`;
  return `${apartText(spell.lambda, spell.target, 2)} over ${target} (${limit})`;
};

/**
 * A rail that answers less than half of the boost, as one without the manifold's hose does: over the injectors pressure then falls, and
 * unless the computer reckons with that, so does the fuel (orifice law).
 */
const railWords = (signals: Signals, { worstAt }: MixtureSpell): string => {
  const droop = droopOf(signals);
  if (!droop || droop.referenced) return '';
  const manifold = atLeast(signals, 'manifold-pressure'),
    rail = believed(signals, 'fuel-pressure');
  if (!manifold || !rail) return '';
  const boostKPa = manifold[worstAt] - signals.barometer.kPa,
    risesKPa = rail[worstAt] - droop.baseKPa,
    share = (boostKPa - risesKPa) / droop.baseKPa;
  return 100 * share < limitOf('fuelPressureDropErrorPercent', signals.vehicle.limits).value || !(share < 1) || !(risesKPa < boostKPa / 2)
    ? ''
    : ` ${nameOf(signals.channel('fuel-pressure')!)} does not rise with boost: over the injectors it falls by ${formatNumber(100 * share, 0)} % here, which takes ${formatNumber(100 * (1 - Math.sqrt(1 - share)), 0)} % of the fuel unless the computer reckons with it. See whether the regulator's hose is on.`;
};

const live = pullColumns();
const reading =
  (fade: number) =>
  (t: number): number =>
    live['target lambda'](t - 0.1) + (t >= 5 && t < 6.4 ? fade : 0) + unrest(t, 0.006);

export const rule: Rule = {
  code: 'lean-under-load',
  concerns: 'engine',
  danger: true,
  docs: {
    title: 'Lean under load',
    meaning:
      'Too little fuel under load raises temperatures and brings knock: it can ruin an engine within seconds. Stop the pull, lift off, find the cause before the next one. Do not tune around it.',
    computed:
      "A reading speaks of the engine a moment ago: cycle, exhaust and sensor delay it (a stated model, 0.05 s at high flow to 0.6 s at idle, or the vehicle file's own figure). It is judged only where the whole band from half to 1.8 times that delay was under load " +
      '(manifold pressure or throttle at their limits; where neither is logged the calculated load, the air flow for the displacement, or a target that is rich for a warm engine), against the leanest target in that band. The mean over `leanUnderLoadS` above target must pass the warning or the error limit; under boost a lambda at `leanUnderBoostLambda` is an error whatever the target. ' +
      `Without a target λ ${ASSUMED_TARGET_LOAD.toFixed(1)} is assumed under load and ${ASSUMED_TARGET_BOOST.toFixed(1)} under boost, and said; a pull that held a richer mixture before for half a second (two where the throttle may not be wide open) may lean out from it by λ 0.05 at the same load and no more (common practice, no source). The sensor's lag is taken off the length of short spells, so a tip-in blip below the limit raises nothing. Where the log's own fuel cuts show a sensor that answers slowly and vehicle.json states no delay, a reading is lean only above a first-order way, at that time constant, from what was burnt before the load to the target; \`sensor-mount\` tells it. What behind a fuel cut lasts no longer than three such constants and ends no more than the warning limit above such a way comes from air; half a reading's step from 0.02 on is taken off. ` +
      'A pull, as the outline and the report list it, is full load for `pullS` in which the speed rises by `pullRiseRpm`, or that is held for `pullHeldS`. Left out: fuel cut and the recovery behind it, gear shifts, the rev limiter, cold, dropped out or stuck sensors, and spells that look like a misfire. A lambda column with the number of a cylinder from 3 on is held against the target by itself. A second gauge of a bank that has read as the first one does in this pull tells a lean spot by itself. Where fuel pressure is logged and holds its gauge while boost rises, what that takes of the fuel is said beside it (orifice law).',
    causes: [
      'Fuel pressure that falls as flow rises: pump, filter, wiring, regulator or its hose',
      'Injectors at the end of their duty',
      'Fuel table cells too low for the new hardware',
      'Less ethanol or other fuel than the calibration assumes',
      'An exhaust leak ahead of the sensor, which reads lean without being lean',
    ],
    checkFirst: 'Fuel pressure under load, before the table.',
    limits: [
      'leanUnderLoad',
      'leanUnderLoadWarning',
      'leanUnderLoadS',
      'leanUnderBoostLambda',
      'boostManifoldPressureKPa',
      'loadManifoldPressureKPa',
      'loadThrottlePercent',
      'overrunAboveIdleRpm',
      'pullS',
      'pullRiseRpm',
      'pullHeldS',
    ],
  },
  sample: () => ({
    firing: `=== a.session.csv\n${sampleLog(11, 0.1, { ...live, lambda: reading(0.09) })}`,
    quiet: `=== a.session.csv\n${sampleLog(11, 0.1, { ...live, lambda: reading(0.01) })}`,
  }),
  session: (signals) =>
    worstFew(mixtureOf(signals).lean, (a, b) => Number(b.error) - Number(a.error) || b.byLambda - a.byLambda)
      .map(({ spell, more }) => ({ spell, more, where: whereText(signals, spell.worstAt) }))
      .map(({ spell, more, where }) =>
        spellFinding(signals, spell.channel, spell, {
          code: 'lean-under-load',
          severity: spell.error ? 'error' : 'warning',
          message:
            `Lean under load: ${nameOf(spell.channel)} reaches λ ${formatNumber(spell.lambda, 2)}, ${against(signals, spell)}, ${whenText(signals, spell)}${where}${!spell.oneBank ? '' : signals.session.channels.some(isOfCylinder) ? ', of this cylinder only' : ', on this bank only'}${spell.notBy ? `; ${nameOf(spell.notBy)} shows nothing of it, and which gauge is right is not known` : ''}. ` +
            (spell.error
              ? 'Lift and stop the pull; check fuel pressure and injector duty before the table.'
              : 'Check fuel pressure before the next pull, then this part of the table.') +
            railWords(signals, spell) +
            launchWords(signals, spell) +
            moreText(more),
          data: {
            lambda: spell.lambda,
            target: spell.target,
            byLambda: spell.byLambda,
            targetFrom: spell.targetFrom,
            absolute: spell.absolute,
            oneBank: spell.oneBank,
            ...(where === '' ? {} : { where: where.slice(2, -1) }),
            more,
          },
        }),
      ),
};
