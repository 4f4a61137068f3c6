// sensor-dropout: a channel that was gone for a moment: empty cells, a leap to an end of its scale and back, or a frozen reading.

import { formatValue } from '../../quantities/format.js';
import { QUANTITIES } from '../../quantities/quantity.js';
import { UNITS } from '../../quantities/units.js';
import { byStart } from '../../signals/faults/byStart.js';
import type { Leaps } from '../../signals/faults/channelFaults.js';
import type { Fault, Signals } from '../../signals/signals.js';
import type { Finding, Rule } from '../finding.js';
import { pullColumns, sampleLog, unrest } from '../sampleLog.js';
import { limitText, moreText, nameOf, spellFinding, lastingS, longestLeaps, whenText, worstFew } from '../spell.js';

const shown = (fault: Fault): string => (fault.channel.quantity ? formatValue(fault.value, UNITS[QUANTITIES[fault.channel.quantity].unit]) : String(fault.value));

const words = (fault: Fault): string => {
  switch (fault.shape) {
    case 'blank': return 'gives no reading';
    case 'frozen': return `stands still at ${shown(fault)} while the engine moves`;
    case 'zero': return `leaps to zero (${shown(fault)}) and back`;
    case 'full-scale': return `leaps to the end of its scale (${shown(fault)}) and back`;
    default: return `leaps to ${shown(fault)}, as an open wire shows it, and back`;
  }
};

/** The limit that was crossed: for a frozen reading and for blanks the channel's own habit stands beside the least length. */
const beyond = (signals: Signals, fault: Fault): string => `${fault.shape === 'frozen' ? 'longer than this channel ever stands by itself; ' : fault.shape === 'blank' ? 'longer than its own pauses; ' : ''}${limitText(signals, 'dropoutS')}`;

/** A channel's leaps out of its range, and its other dropouts by start. */
interface Dropouts { readonly leaps: Leaps | undefined; readonly others: readonly Fault[] }

/** Of each channel that has any, in the order of their first. */
const dropoutsOf = (signals: Signals): Dropouts[] => {
  const found = signals.faultLists.map(({ leaps, others }) => ({ leaps, others: others.filter(({ kind }) => kind === 'dropout') })).filter(({ leaps, others }) => leaps !== undefined || others.length > 0);
  const firstOf = ({ leaps, others }: Dropouts): number => Math.min(leaps?.from[0] ?? Infinity, others[0]?.from ?? Infinity);
  return found.sort((one, other) => firstOf(one) - firstOf(other));
};

/** Gone at the start or end for good, or gone between readings. */
const tell = (signals: Signals, { leaps, others }: Dropouts): Finding[] => {
  const longest = leaps ? longestLeaps(signals, leaps) : [];
  return worstFew(byStart([...longest, ...others]), (a, b) => lastingS(signals, b) - lastingS(signals, a), undefined, leaps ? leaps.size - longest.length : 0).map(({ spell: fault, more }) => spellFinding(signals, fault.channel, fault, {
    code: 'sensor-dropout', severity: fault.channel.quantity === undefined ? 'information' : 'warning',
    message: `${nameOf(fault.channel)} ${words(fault)} ${whenText(signals, fault)} (${beyond(signals, fault)}). Nothing is concluded from it there; check the plug, the wire and the ground of this sensor first.${moreText(more)}`,
    data: { shape: fault.shape, value: Number.isFinite(fault.value) ? fault.value : null, more },
  }));
};

/** One cause takes many channels at once: a stalled logger is told once. */
const MANY_AT_ONCE = 4;

const live = pullColumns();

export const rule: Rule = {
  code: 'sensor-dropout', concerns: 'readings',
  docs: {
    title: 'Sensor gone for a moment',
    meaning: 'The channel did not tell the truth in this spell. Whatever the engine did there was not seen, and the numbers shown must not be used for a correction.',
    computed: 'Empty cells count where they last 1.7 times longer than this channel\'s own long spacing (98 % of its readings come closer together), so a slow channel is not a dropout. '
      + 'A leap counts where the reading goes in one step to zero, −40 °C, 0 V or 5 V of a scaled sensor or the end of the channel and back within `dropoutLongestS`, and neither the thing itself can move so fast '
      + '(coolant 4 °C/s, road speed 60 km/h per second, engine speed 14 000 rpm/s and so on; physics, rounded up) nor do the channels that go with it agree. A throttle shown wide open while the manifold stays below 0.7 of the barometer (or the calculated load below half) is one too, as is one shown closed while manifold or load stay as full as they were, and a road speed or a temperature that makes a square pulse down to zero. '
      + 'A frozen reading counts where so long a run of equal values is too rare for this channel in moments as busy: the tail of its own run lengths is read off, and a chance of less than about one in four hundred for the whole channel is asked for. Nothing shorter than `dropoutS` is told. '
      + 'A leap that throttle, pressure, air flow or target make too is the engine\'s, and so is a plausible level of a channel without unrest, or one that lasts more than 3 s; such a channel is not called frozen either. Lambda at its lean end in a fuel cut is air, not a dropout.',
    causes: ['A loose plug or a chafed wire that opens with vibration', 'A bad sensor ground or supply', 'The logger or the bus was too busy to answer', 'A sensor heater that cuts out'],
    checkFirst: 'Wiggle the plug and the loom of this sensor with the engine idling and watch the live reading.',
    limits: ['dropoutS', 'dropoutLongestS', 'stuckS'],
  },
  sample: () => ({
    firing: `=== a.session.csv\n${sampleLog(12, 0.1, { ...live, 'lambda': (t) => (t >= 5 && t < 5.6 ? undefined : live['target lambda'](t - 0.1) + unrest(t, 0.005)) })}`,
    quiet: `=== a.session.csv\n${sampleLog(12, 0.1, { ...live, 'lambda': (t) => (Math.round(t * 10) % 5 === 0 ? live['target lambda'](t - 0.1) + unrest(t, 0.005) : undefined) })}`,
  }),
  session: (signals) => {
    const dropouts = dropoutsOf(signals), stalls = new Map<string, Fault[]>();
    for (const fault of byStart(dropouts.flatMap(({ others }) => others.filter(({ shape }) => shape === 'frozen' || shape === 'blank')))) {
      const key = `${fault.shape} ${Math.round(signals.timeS[fault.from] * 2)} ${Math.round(signals.timeS[Math.min(fault.to, signals.timeS.length - 1)] * 2)}`;
      const known = stalls.get(key);
      if (known) known.push(fault); else stalls.set(key, [fault]);
    }
    const together = [...stalls.values()].filter((faults) => faults.length >= MANY_AT_ONCE);
    const merged = new Set(together.flat());
    const found = together.map((faults) => spellFinding(signals, faults[0].channel, faults[0], {
      code: 'sensor-dropout', severity: 'warning',
      message: `${faults.length} channels ${faults[0].shape === 'blank' ? 'give no reading' : 'stand still'} at once ${whenText(signals, faults[0])}: ${faults.slice(0, 3).map((fault) => nameOf(fault.channel)).join(', ')} and others. Check the logger and the bus before any one sensor.`,
      data: { shape: faults[0].shape, channels: faults.map((fault) => nameOf(fault.channel)) },
    }));
    return [...found, ...dropouts.flatMap(({ leaps, others }) => tell(signals, { leaps, others: others.filter((fault) => !merged.has(fault)) }))];
  },
};
