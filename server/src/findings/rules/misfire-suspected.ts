// misfire-suspected: a bank reads lean, but the other signs speak of a cylinder that does not burn, not of missing fuel.

import { formatNumber } from '../../quantities/format.js';
import type { MisfireSpell } from '../../signals/mixture/misfire.js';
import { crossedSensors } from '../../signals/mixture/crossedSensors.js';
import { launchWords } from '../launches.js';
import { mixtureOf } from '../mixture.js';
import type { Rule } from '../finding.js';
import { sampleLog, unrest } from '../sampleLog.js';
import { limitText, moreText, nameOf, spellFinding, whenText, worstFew } from '../spell.js';

const drive = (misses: boolean): string =>
  sampleLog(16, 0.1, {
    'engine speed (rpm)': (t) => 3000 + unrest(t, misses && t >= 6 && t < 8 ? 60 : 5),
    'throttle (%)': (t) => 35 + unrest(t, 0.3),
    'manifold pressure (kPa)': (t) => 70 + unrest(t, 0.6),
    lambda: (t) => 1 + unrest(t, 0.005) + (misses && t >= 6 && t < 8 ? 0.18 : 0),
    'lambda bank 2': (t) => 1 + unrest(t + 3, 0.005),
  });

/** What was under load goes first: there it costs an engine. */
const worse = (a: MisfireSpell, b: MisfireSpell): number =>
  Number(b.dead) - Number(a.dead) || Number(b.underLoad) - Number(a.underLoad) || b.lambda - b.reference - a.lambda + a.reference;

export const rule: Rule = {
  code: 'misfire-suspected',
  concerns: 'engine',
  danger: true,
  docs: {
    title: 'Misfire suspected',
    meaning:
      'A cylinder that does not fire, or whose injector gives nothing, pushes its air, unburnt, past the sensor: the bank looks lean while its other cylinders are right. Enriching on it harms engine and catalyst.',
    computed:
      "A bank that reads more than `misfireLambda` above the other bank for `misfireS` and longer (`misfireAloneLambda` above its target for `misfireAloneS` where only one is logged), outside fuel cuts, shifts and tip-ins and in more than one answer of a slow log, is held against the other signs. The other bank stays where it was, or reads what was asked for, or, where no target is known, this bank's readings of load stand more than 0.15 above it for 2 s, and more than 0.02 above the target that `lean-under-load` assumes, while the other bank's do not fall below `richLambda`: 1.5 points, but not where this bank stands so far above it all the time, or through nine tenths of three quarters of three pulls and more (half of it), and by no more than 0.15, which is a matter of its injectors or sensor. Engine speed turns uneven (twice the usual distance from the line between neighbours): 1.5. " +
      "The trim adds more than `misfireTrimPercent` and the bank stays lean: 1. Where only this bank's lambda is logged, the trim of the other bank follows by less than a third: 1.5. Its own reading turns ragged (two and a half times its usual unrest): 1. It comes at once: 0.5. It is more than 0.15 above the other bank: 0.5, more than 0.3: 1. A misfire code is stored: 1.5. The bank missed for sure within 10 s before or after: 1. Pressure over the injector falls by 5 %: minus 2, for that is missing fuel. From `misfirePoints` on (half a point more where only one bank is logged) it is told as a misfire and no longer as lean. It is an error where its readings of load stood more than 0.15 apart for 2 s, and more than `leanUnderLoad` above their target where one is known (else the other bank may be at fault, too rich): a cylinder that burns nothing makes a bank of six at λ 0.80 read 0.96, and fewer cylinders more. Points: common practice, no source.",
    causes: [
      'A worn plug, a coil or a lead that breaks down under pressure',
      'An injector that does not open: its wiring, its driver, or dirt',
      'A plug gap too wide for the boost',
      'Low compression in one cylinder',
    ],
    checkFirst: 'Plugs, coils and injectors of this bank, by swapping one to another cylinder. Add no fuel.',
    limits: [
      'misfireLambda',
      'misfireS',
      'misfireAloneLambda',
      'misfireAloneS',
      'misfireTrimPercent',
      'misfirePoints',
      'leanUnderLoad',
      'richLambda',
      'overrunAboveIdleRpm',
    ],
  },
  sample: () => ({ firing: `=== a.session.csv\n${drive(true)}`, quiet: `=== a.session.csv\n${drive(false)}` }),
  session: (signals) =>
    crossedSensors(signals)
      ? []
      : worstFew(mixtureOf(signals).misfire, worse).map(({ spell, more }) =>
          spellFinding(signals, spell.channel, spell, {
            code: 'misfire-suspected',
            severity: spell.dead ? 'error' : 'warning',
            message:
              `Misfire suspected${spell.dead ? ' under load' : ''}: ${nameOf(spell.channel)} reads λ ${formatNumber(spell.lambda, 2)} against ${formatNumber(spell.reference, 2)} ${spell.referenceIs === 'bank' ? 'on the other bank' : 'asked for'} (${limitText(signals, spell.referenceIs === 'bank' ? 'misfireLambda' : 'misfireAloneLambda')}) ${whenText(signals, spell)}, and ${spell.signs.join(', ')}. ` +
              `${spell.dead ? 'Lift, and no more pulls: a cylinder does not fire or gets no fuel. Add no fuel, the other cylinders have theirs: check' : 'One cylinder makes it look lean: add no fuel, check'} plugs, coils and injectors${spell.referenceIs === 'bank' ? ' of this bank' : ''} (dead electrically, or blocked)` +
              `${spell.underLoad && !spell.dead ? ', and make no more pulls until then' : ''}.${launchWords(signals, spell)}${moreText(more)}`,
            data: { lambda: spell.lambda, reference: spell.reference, signs: spell.signs, underLoad: spell.underLoad || spell.dead, more },
          }),
        ),
};
