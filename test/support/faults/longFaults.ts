// Faults of a sensor that last: an end of its range reached, a channel that stands still, a unit or a scale that is not the header's.

import type { QuantityId } from '../../../server/src/quantities/quantity.js';
import type { RecordedChannel, Recording, Spell } from './recording.js';
import { channelOf, sampleAt, withChannel, withFault } from './recording.js';
import {
  edited,
  every,
  extent,
  findSpell,
  isLoaded,
  isRunning,
  levelSinceS,
  named,
  span,
  spellOf,
  stretches,
  twoSamplesS,
  type Planter,
} from './places.js';

/** A reading that its own noise takes off the end for no longer hovers there: a reader may count it as pinned already. */
const HOVERS_S = 0.5;

/** Pinned at an end wherever the true value lies beyond it; the spells in which it is pinned, and when each may be said to begin. */
const pin = (
  recording: Recording,
  channel: RecordedChannel,
  low: number,
  high: number,
  leastS: number,
): { changed: RecordedChannel; spells: Spell[]; onsets: Spell[] } => {
  const beyond = stretches(
    recording,
    (sample) => !(channel.values[sample] >= low && channel.values[sample] <= high) && !Number.isNaN(channel.values[sample]),
    leastS,
  );
  const changed = edited(channel, (values) => {
    for (let at = 0; at < values.length; at++) if (!Number.isNaN(values[at])) values[at] = Math.min(high, Math.max(low, values[at]));
  });
  const atEnd = stretches(
    recording,
    (sample) => !Number.isNaN(channel.values[sample]) && !(channel.values[sample] > low && channel.values[sample] < high),
    0,
  );
  const hoversFrom = (start: number): number => {
    let since = start;
    for (const [from, to] of [...atEnd].reverse())
      if (from < since && recording.timeS[since] - recording.timeS[to] < HOVERS_S) since = from;
    return since;
  };
  return {
    changed,
    spells: beyond.map(([from, to]) => spellOf(recording, from, to)),
    onsets: beyond.map(([from]) => spellOf(recording, hoversFrom(from), from)),
  };
};

/** Visible: pinned for half a second and five samples in a pull whose true pressure goes 8 kPa or more beyond the end. */
export const pressureSensorTooSmall: Planter = (recording, random) => {
  const channel = channelOf(recording, 'manifold-pressure');
  if (!channel || recording.faults.length > 0) return undefined;
  const [, top] = extent(channel.values, 0, channel.values.length - 1);
  const ends = [101.3, 105, 115, 150, 160, 200, 207, 250].filter((end) => end > 98 && end < top - 8);
  if (ends.length === 0) return undefined;
  const end = random.pick(ends);
  const { changed, spells, onsets } = pin(recording, channel, -Infinity, end, Math.max(0.5, 5 / recording.rateHz));
  if (spells.length === 0) return undefined;
  return withFault(withChannel(recording, changed), {
    class: 'clipped: pressure sensor too small',
    channel: named(channel),
    spells,
    codes: ['channel-clipped'],
    also: ['channel-stuck', 'sensor-dropout'],
    severities: ['warning', 'error'],
    because: 'under boost the load is not known where the engine is most at risk',
    onsets,
    twoSamplesS: twoSamplesS(recording, channel),
    note: `${channel.name} ends at ${end} kPa, true ${top.toFixed(0)}`,
  });
};

/** Visible: pinned rich under load for half a second and five samples in a row. A lean end reached in overrun is air, no fault. */
export const lambdaOutputTooNarrow: Planter = (recording, random) => {
  const channel = channelOf(recording, 'lambda');
  if (!channel || recording.faults.length > 0) return undefined;
  const loaded = isLoaded(recording);
  const inLoad = channel.values.filter((value, sample) => loaded(sample) && !Number.isNaN(value)).sort();
  if (inLoad.length < 40) return undefined;
  const low = Math.round((inLoad[Math.floor(inLoad.length * 0.5)] + random.between(0.01, 0.04)) * 100) / 100;
  const leastS = Math.max(0.5, 5 / recording.rateHz);
  const pinned = pin(recording, channel, low, Infinity, leastS);
  if (pinned.spells.length === 0) return undefined;
  return withFault(
    {
      ...withChannel(recording, pinned.changed),
      vehicle: { ...recording.vehicle, lambdaSensor: random.chance(0.5) ? { range: [low, 1.6] } : {} },
    },
    {
      class: 'clipped: lambda output too narrow',
      channel: named(channel),
      spells: pinned.spells,
      codes: ['channel-clipped'],
      also: ['channel-stuck', 'sensor-dropout', 'lean-under-load'],
      severities: ['warning', 'error'],
      because: 'under load the mixture is not known',
      onsets: pinned.onsets,
      twoSamplesS: twoSamplesS(recording, channel),
      note: `${channel.name} ends at ${low}`,
    },
  );
};

/** Visible: flat for 0.6 s and five samples while engine speed rises by a tenth. */
export const airFlowClipped: Planter = (recording, random) => {
  const channel = channelOf(recording, 'mass-air-flow'),
    speed = channelOf(recording, 'engine-speed');
  if (!channel || !speed || recording.faults.length > 0) return undefined;
  const top = extent(channel.values, 0, channel.values.length - 1)[1] * random.between(0.6, 0.8);
  const { changed, spells, onsets } = pin(recording, channel, -Infinity, top, Math.max(0.6, 5 / recording.rateHz));
  const shows = spells.filter(([fromS, toS]) => {
    const [low, high] = extent(speed.values, sampleAt(recording, fromS), sampleAt(recording, toS));
    return high > low * 1.1;
  });
  if (shows.length === 0) return undefined;
  return withFault(withChannel(recording, changed), {
    class: 'clipped: air flow',
    channel: named(channel),
    spells,
    codes: ['channel-clipped'],
    also: ['channel-stuck', 'sensor-dropout'],
    severities: ['warning', 'error'],
    because: 'the air is under-read where the engine is most at risk',
    onsets,
    twoSamplesS: twoSamplesS(recording, channel),
    note: `${channel.name} ends at ${top.toFixed(0)} g/s`,
  });
};

/**
 * Visible: still for 8 s or more (to the rest of the log) while the true value covers half of its span or more, and at least one other
 * moving channel is logged.
 */
export const stuckChannel: Planter = (recording, random) => {
  const quantity = random.pick<QuantityId>([
    'lambda',
    'lambda',
    'manifold-pressure',
    'manifold-pressure',
    'throttle',
    'engine-speed',
    'mass-air-flow',
    'vehicle-speed',
    'pedal',
    'engine-load',
    'injector-pulse-width',
  ]);
  const channel = channelOf(recording, quantity);
  if (!channel || recording.channels.length < 4) return undefined;
  const width = span(recording, channel),
    running = isRunning(recording);
  const lengthS = random.pick([random.between(9, 20), random.between(20, 90)]);
  const spell = findSpell(recording, random, lengthS, (from, to) => {
    if (!every(from, to, running) || Number.isNaN(channel.values[from])) return false;
    // a car on rollers stands still, and behind a pedal at rest a cruise control may work: no channel contradicts either
    if ((quantity === 'vehicle-speed' && channel.values[from] < 3) || (quantity === 'pedal' && channel.values[from] < 3)) return false;
    if (quantity === 'lambda' && (recording.state[from] === 'overrun' || recording.timeS[from] < 60)) return false;
    // the true value must move about for most of the spell: a throttle held shut at a red light is no fault
    const [low, high] = extent(channel.values, from, to),
      third = Math.floor((to - from) / 3);
    const [lateLow, lateHigh] = extent(channel.values, to - third, to),
      [soonLow, soonHigh] = extent(channel.values, from, from + third);
    return high - low > 0.5 * width && lateHigh - lateLow > 0.2 * width && soonHigh - soonLow > 0.2 * width;
  });
  if (!spell) return undefined;
  const [from, to] = spell,
    held = channel.values[from];
  const changed = edited(channel, (values) => {
    for (let at = from; at <= to; at++) if (!Number.isNaN(values[at])) values[at] = held;
  });
  const [fromS, toS] = spellOf(recording, from, to);
  // what a reader sees: the ends of the channel as written, and a level that begins where the value was first met
  const [least, most] = extent(changed.values, 0, channel.values.length - 1),
    atEnd = held < least + 0.04 * (most - least) || held > most - 0.04 * (most - least);
  return withFault(withChannel(recording, changed), {
    class: 'stuck',
    channel: named(channel),
    spells: [[fromS, toS]], // standing at an end of its range it may as well be called clipped
    codes: ['channel-stuck', 'sensor-dropout', ...(atEnd ? ['channel-clipped' as const] : [])],
    also: [],
    severities: ['lambda', 'manifold-pressure', 'throttle', 'engine-speed', 'mass-air-flow'].includes(quantity)
      ? ['warning', 'error']
      : ['information', 'warning', 'error'],
    because: 'a still channel is read as if it were true: at least a warning where fuelling rests on it',
    onsets: [[levelSinceS(recording, channel, from) - channel.stepS, fromS]],
    twoSamplesS: twoSamplesS(recording, channel),
    note: `${channel.name} at ${channel.written(held).toFixed(channel.decimals)} for ${(toS - fromS).toFixed(0)} s`,
  });
};

const PSI_KPA = 6.894757;
interface WrongUnit {
  readonly quantity: QuantityId;
  readonly header: string;
  readonly real: string;
  readonly written: (canonical: number) => number;
  readonly decimals: number;
  readonly visible: (channel: RecordedChannel, recording: Recording) => boolean;
}

const share = (
  recording: Recording,
  channel: RecordedChannel,
  holds: (written: number) => boolean,
  written: (canonical: number) => number,
): number => {
  let all = 0,
    hits = 0;
  const running = isRunning(recording);
  channel.values.forEach((value, sample) => {
    if (!Number.isNaN(value) && running(sample)) {
      all += 1;
      if (holds(written(value))) hits += 1;
    }
  });
  return all === 0 ? 0 : hits / all;
};

/**
 * Visible: a twentieth or more of the running samples read, under the header's unit, outside the plausible range of section 9.1 of the
 * reference values.
 */
const WRONG_UNITS: readonly WrongUnit[] = [
  {
    quantity: 'manifold-pressure',
    header: 'kPa',
    real: 'psi',
    written: (p) => p / PSI_KPA,
    decimals: 2,
    visible: (c, r) =>
      share(
        r,
        c,
        (p) => p < 9.5,
        (p) => p / PSI_KPA,
      ) > 0.05,
  },
  { quantity: 'manifold-pressure', header: 'kPa', real: 'bar', written: (p) => p / 100, decimals: 3, visible: () => true },
  {
    quantity: 'manifold-pressure',
    header: 'psi',
    real: 'kPa',
    written: (p) => p,
    decimals: 1,
    visible: (c, r) =>
      share(
        r,
        c,
        (p) => p * PSI_KPA > 460,
        (p) => p,
      ) > 0.05,
  },
  {
    quantity: 'coolant-temperature',
    header: '°C',
    real: '°F',
    written: (t) => t * 1.8 + 32,
    decimals: 0,
    visible: (c, r) =>
      share(
        r,
        c,
        (t) => t > 152,
        (t) => t * 1.8 + 32,
      ) > 0.05,
  },
  { quantity: 'intake-air-temperature', header: '°C', real: 'K', written: (t) => t + 273.15, decimals: 1, visible: () => true },
  { quantity: 'coolant-temperature', header: '°C', real: 'K', written: (t) => t + 273.15, decimals: 1, visible: () => true },
  { quantity: 'lambda', header: 'λ', real: 'AFR', written: (l) => l * 14.7, decimals: 2, visible: () => true },
  { quantity: 'lambda', header: 'AFR', real: 'λ', written: (l) => l, decimals: 3, visible: () => true },
];

export const wrongUnit: Planter = (recording, random) => {
  if (recording.faults.length > 0) return undefined;
  const wrong = random.pick(WRONG_UNITS),
    channel = channelOf(recording, wrong.quantity);
  if (!channel || !wrong.visible(channel, recording)) return undefined;
  const name = /AFR|lambda/i.test(channel.name) ? (wrong.header === 'AFR' ? 'AFR' : 'Lambda') : channel.name;
  const changed: RecordedChannel = { ...channel, name, unit: wrong.header, written: wrong.written, decimals: wrong.decimals };
  return withFault(withChannel(recording, changed), {
    class: 'unit in the header wrong',
    channel: named(changed),
    spells: [],
    codes:
      wrong.quantity === 'lambda' ? ['value-implausible', 'afr-scale-mismatch', 'unit-unknown'] : ['value-implausible', 'unit-unknown'],
    also: ['channel-clipped'],
    severities: ['warning', 'error'],
    because: 'every value of the channel is read wrong',
    twoSamplesS: 0,
    note: `${wrong.real} under ${wrong.header} (${wrong.quantity})`,
  });
};

/** Air-fuel ratios by mass at λ = 1 (reference values, section 1, rounded). Far enough from 14.7 to be seen: one part in seven or more. */
const FUELS: readonly (readonly [blend: string, stoichAfr: number])[] = [
  ['E85', 9.81],
  ['E100', 9.0],
  ['E70', 10.7],
];

const afr =
  (of: 'named' | 'true' | 'gasoline'): Planter =>
  (recording, random) => {
    const channel = channelOf(recording, 'lambda');
    if (!channel || recording.faults.length > 0) return undefined;
    const [blend, stoichAfr] = random.pick(FUELS);
    const changed: RecordedChannel = {
      ...channel,
      name: 'AFR',
      unit: of === 'named' ? `AFR ${blend}` : 'AFR',
      decimals: 2,
      written: of === 'true' ? (l) => l * stoichAfr : (l) => l * 14.7,
    };
    const common = { channel: named(changed), spells: [], codes: ['afr-scale-mismatch'] as const, twoSamplesS: 0 };
    const fuelled = { ...withChannel(recording, changed), vehicle: { ...recording.vehicle, fuel: { blend } } };
    if (of === 'gasoline')
      return withFault(fuelled, {
        ...common,
        class: 'AFR: gasoline scale while another fuel burns',
        also: [],
        severities: ['information', 'warning'],
        because: 'lambda is read right; only the label misleads whoever reads it as AFR of the fuel',
        note: `AFR, ${blend} burns`,
      });
    return withFault(fuelled, {
      ...common,
      class: of === 'named' ? 'AFR: header names the fuel, values on the gasoline scale' : 'AFR: true AFR of the fuel under a plain header',
      codes: ['afr-scale-mismatch', 'value-implausible'],
      also: of === 'named' ? [] : ['channel-clipped'],
      severities: ['warning', 'error'],
      because: 'the whole lambda column is wrong by the ratio of the scales',
      note: of === 'named' ? `AFR ${blend} holds gasoline-scale numbers` : `AFR holds true AFR of ${blend}`,
    });
  };
export const afrNamedFuel = afr('named'),
  afrTrueUnderPlain = afr('true'),
  afrGasolineScale = afr('gasoline');
