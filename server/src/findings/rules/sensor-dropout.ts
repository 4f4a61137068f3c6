// sensor-dropout: a channel that was gone for a moment: empty cells, a leap to an end of its scale and back, or a frozen reading.

import { unjudgedFuel } from '../../signals/mixture/offTarget.js';
import { formatValue } from '../../quantities/format.js';
import { QUANTITIES, type QuantityId } from '../../quantities/quantity.js';
import { UNITS } from '../../quantities/units.js';
import { limitOf } from '../../formats/limits.js';
import { byStart } from '../../signals/faults/byStart.js';
import type { Leaps } from '../../signals/faults/channelFaults.js';
import { operatingOf } from '../../signals/drive/operating.js';
import type { Fault, Signals, Span } from '../../signals/signals.js';
import type { Finding, Rule } from '../finding.js';
import { pullColumns, sampleLog, unrest } from '../sampleLog.js';
import { limitText, moreText, nameOf, spellFinding, lastingS, longestLeaps, whenText, worstFew } from '../spell.js';

const shown = (fault: Fault): string =>
  fault.channel.quantity ? formatValue(fault.value, UNITS[QUANTITIES[fault.channel.quantity].unit]) : String(fault.value);

const words = (fault: Fault): string => {
  switch (fault.shape) {
    case 'blank':
      return 'gives no reading';
    case 'frozen':
      return `stands still at ${shown(fault)} while the engine moves`;
    case 'zero':
      return `leaps to zero (${shown(fault)}) and back`;
    case 'full-scale':
      return `leaps to the end of its scale (${shown(fault)}) and back`;
    default:
      return `leaps to ${shown(fault)}, as an open wire shows it, and back`;
  }
};

/** What no wire brings. */
const RECKONED = /^(?:target-lambda|(?:short|long)-term|ignition-advance|knock-retard|injector-|engine-load|gear|fuel-cut)/;
const isReckoned = ({ channel, shape }: Fault): boolean => shape === 'blank' && RECKONED.test(channel.quantity ?? '');

/** The limit that was crossed: for a frozen reading and for blanks the channel's own habit stands beside the least length. */
const beyond = (signals: Signals, fault: Fault): string =>
  `${fault.shape === 'frozen' ? 'longer than this channel ever stands by itself; ' : fault.shape === 'blank' ? 'longer than its own pauses; ' : ''}${limitText(signals, 'dropoutS')}`;

/** A channel's leaps out of its range, and its other dropouts by start. */
interface Dropouts {
  readonly leaps: Leaps | undefined;
  readonly others: readonly Fault[];
}

/** Of each channel that has any, in the order of their first. */
const dropoutsOf = (signals: Signals): Dropouts[] => {
  const found = signals.faultLists
    .map(({ leaps, others }) => ({ leaps, others: others.filter(({ kind }) => kind === 'dropout') }))
    .filter(({ leaps, others }) => leaps !== undefined || others.length > 0);
  const firstOf = ({ leaps, others }: Dropouts): number => Math.min(leaps?.from[0] ?? Infinity, others[0]?.from ?? Infinity);
  return found.sort((one, other) => firstOf(one) - firstOf(other));
};

/**
 * Lambda that leaps lean while the engine works hard for as long as a lean spell takes: an open wire shows it so, and so does a pump that
 * gave out.
 */
const mayBeLean = (signals: Signals, span: Span): boolean => {
  if (!(lastingS(signals, span) >= limitOf('leanUnderLoadS', signals.vehicle.limits).value)) return false;
  const { load } = operatingOf(signals);
  let loaded = 0;
  for (let i = span.from; i < span.to; i++) loaded += load[i];
  return loaded * 2 > span.to - span.from;
};

/** Behind a catalyst it shows no mixture anyway, and that is said. */
const showsMixture = (signals: Signals, quantity: QuantityId | undefined): boolean =>
  (quantity === 'lambda' || quantity === 'lambda-2') && (signals.vehicle.lambdaSensor.mount ?? 'upstream') === 'upstream';

const leanLeaps = (signals: Signals, { leaps, others }: Dropouts): Fault[] => {
  if (!showsMixture(signals, (leaps ?? others[0]).channel.quantity)) return [];
  const leapt = leaps
    ? Array.from(leaps.from.subarray(0, leaps.size).keys())
        .filter((k) => mayBeLean(signals, { from: leaps.from[k], to: leaps.to[k] }))
        .map((k) => leaps.at(k))
    : [];
  return [...leapt, ...others.filter((fault) => fault.shape !== 'frozen' && fault.shape !== 'blank' && mayBeLean(signals, fault))].filter(
    ({ value }) => value > 1,
  );
};

/** A diesel's lambda goes to the lean end with every foot that is lifted. */
const withoutLeanEnd = (signals: Signals, all: Dropouts): Dropouts => {
  const { leaps, others } = all;
  if (!(leaps ?? others[0])?.channel.quantity?.startsWith('lambda') || unjudgedFuel(signals) === undefined) return all;
  const leapt = Array.from({ length: leaps?.size ?? 0 }, (_, k) => leaps!.at(k));
  return { leaps: undefined, others: [...leapt, ...others].filter(({ shape, value }) => shape === 'frozen' || !(value > 1)) };
};

/** Gone at the start or end for good, or gone between readings. */
const tell = (signals: Signals, all: Dropouts): Finding[] => {
  const dropouts = withoutLeanEnd(signals, all),
    { leaps, others } = dropouts;
  if (!leaps && others.length === 0) return [];
  const lean = leanLeaps(signals, dropouts),
    starts = new Set(lean.map(({ from }) => from));
  const rest = [...(leaps ? longestLeaps(signals, leaps) : []), ...others].filter(({ from }) => !starts.has(from));
  const spells = byStart([...lean, ...rest]);
  const isLean = ({ from }: Fault): boolean => starts.has(from);
  return worstFew(
    spells,
    (a, b) => Number(isLean(b)) - Number(isLean(a)) || lastingS(signals, b) - lastingS(signals, a),
    undefined,
    (leaps?.size ?? 0) + others.length - spells.length,
  ).map(({ spell: fault, more }) => {
    const mayBe = isLean(fault);
    return spellFinding(signals, fault.channel, fault, {
      code: 'sensor-dropout',
      severity: mayBe ? 'error' : fault.channel.quantity === undefined ? 'information' : 'warning',
      message: `${nameOf(fault.channel)} ${words(fault)} ${whenText(signals, fault)}${mayBe ? ' under load' : ''} (${beyond(signals, fault)}). ${
        mayBe
          ? "The mixture may truly be that lean: no full load until that is known. Check fuel pressure, and this sensor's plug, wire and ground."
          : `Nothing is concluded from it there; ${isReckoned(fault) ? 'the computer reckons it: see whether the logger got its answers' : 'check the plug, the wire and the ground of this sensor first'}.`
      }${moreText(more)}`,
      data: { shape: fault.shape, value: Number.isFinite(fault.value) ? fault.value : null, more },
    });
  });
};

/** One cause takes many channels at once: a stalled logger is told once. */
const MANY_AT_ONCE = 4;

const live = pullColumns();

export const rule: Rule = {
  code: 'sensor-dropout',
  concerns: 'readings',
  docs: {
    title: 'Sensor gone for a moment',
    meaning:
      'The channel did not tell the truth in this spell. Whatever the engine did there was not seen, and the numbers shown must not be used for a correction.',
    computed:
      "Empty cells count where they last 1.7 times longer than this channel's own long spacing (98 % of its readings come closer together), so a slow channel is not a dropout. " +
      'A leap counts where the reading goes in one step to zero, −40 °C, 0 V or 5 V of a scaled sensor or the end of the channel and back within `dropoutLongestS`, and neither the thing itself can move so fast ' +
      '(coolant 4 °C/s, road speed 60 km/h per second, engine speed 14 000 rpm/s and so on; physics, rounded up) nor do the channels that go with it agree. A throttle shown wide open while the manifold stays below 0.7 of the barometer (or the calculated load below half) is one too, as is one shown closed while manifold or load stay as full as they were, and a road speed or a temperature that makes a square pulse down to zero. ' +
      'A frozen reading counts where so long a run of equal values is too rare for this channel in moments as busy: the tail of its own run lengths is read off, and a chance of less than about one in four hundred for the whole channel is asked for. Nothing shorter than `dropoutS` is told, but for an engine speed at nought between two readings that no crank gets to so fast. A barometer may be silent. ' +
      "A leap that throttle, pressure, air flow or target make too is the engine's, and so is a plausible level of a channel without unrest, or one that lasts more than 3 s; such a channel is not called frozen either. Lambda at its lean end in a fuel cut is air, not a dropout. Where lambda leaps to its lean end under load for `leanUnderLoadS` it is an error: an open wire shows it so, and so does a pump that gives out.",
    causes: [
      'A loose plug or a chafed wire that opens with vibration',
      'A bad sensor ground or supply',
      'The logger or the bus was too busy to answer',
      'A sensor heater that cuts out',
    ],
    checkFirst: 'Wiggle the plug and the loom of this sensor with the engine idling and watch the live reading.',
    limits: ['dropoutS', 'dropoutLongestS', 'stuckS', 'leanUnderLoadS'],
  },
  sample: () => ({
    firing: `=== a.session.csv\n${sampleLog(12, 0.1, { ...live, lambda: (t) => (t >= 5 && t < 5.6 ? undefined : live['target lambda'](t - 0.1) + unrest(t, 0.005)) })}`,
    quiet: `=== a.session.csv\n${sampleLog(12, 0.1, { ...live, lambda: (t) => (Math.round(t * 10) % 5 === 0 ? live['target lambda'](t - 0.1) + unrest(t, 0.005) : undefined) })}`,
  }),
  session: (signals) => {
    const dropouts = dropoutsOf(signals),
      stalls = new Map<string, Fault[]>();
    for (const fault of byStart(dropouts.flatMap(({ others }) => others.filter(({ shape }) => shape === 'frozen' || shape === 'blank')))) {
      const key = `${fault.shape} ${Math.round(signals.timeS[fault.from] * 2)} ${Math.round(signals.timeS[Math.min(fault.to, signals.timeS.length - 1)] * 2)}`;
      const known = stalls.get(key);
      if (known) known.push(fault);
      else stalls.set(key, [fault]);
    }
    const together = [...stalls.values()].filter((faults) => faults.length >= MANY_AT_ONCE);
    const merged = new Set(together.flat());
    const found = together.map((faults) =>
      spellFinding(signals, faults[0].channel, faults[0], {
        code: 'sensor-dropout',
        severity: 'warning',
        message: `${faults.length} channels ${faults[0].shape === 'blank' ? 'give no reading' : 'stand still'} at once ${whenText(signals, faults[0])}: ${faults
          .slice(0, 3)
          .map((fault) => nameOf(fault.channel))
          .join(', ')} and others. Check the logger and the bus before any one sensor.`,
        data: { shape: faults[0].shape, channels: faults.map((fault) => nameOf(fault.channel)) },
      }),
    );
    return [
      ...found,
      ...dropouts.flatMap(({ leaps, others }) => tell(signals, { leaps, others: others.filter((fault) => !merged.has(fault)) })),
    ];
  },
};
