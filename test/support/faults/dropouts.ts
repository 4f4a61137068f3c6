// Dropouts of 0.3 to 3 s in every shape a wire, a plug or a logger makes.
//
// Visible means: at least three of the channel's own samples are hit, and
// - empty: the channel was full before and after;
// - zero, full scale, open circuit: the value jumps in one sample by more than a third of the channel's working span, to a place the engine
//   at that moment can't put it, and jumps back; the state of the engine is told by at least one other channel;
// - frozen: one value stays at least twice as long as the longest repeat of the healthy channel, while the true one wanders off by more
// than 15 % of its span.

import type { QuantityId } from '../../../server/src/quantities/quantity.js';
import type { Random } from './random.js';
import type { FaultClass, PlantedFault, RecordedChannel, Recording } from './recording.js';
import { channelOf, withChannel, withFault } from './recording.js';
import {
  edited,
  extent,
  filledBetween,
  findSpell,
  isRunning,
  every,
  levelSinceS,
  longestRepeatS,
  named,
  span,
  spellOf,
  truthOf,
  twoSamplesS,
  type Planter,
} from './places.js';

const FUELLING: readonly QuantityId[] = ['lambda', 'lambda-2', 'manifold-pressure', 'engine-speed', 'throttle', 'mass-air-flow'];
const CANDIDATES: readonly QuantityId[] = [
  ...FUELLING,
  'lambda',
  'lambda',
  'manifold-pressure',
  'intake-air-temperature',
  'coolant-temperature',
  'fuel-pressure',
  'battery-voltage',
  'vehicle-speed',
  'injector-pulse-width',
  'ignition-advance',
  'oil-pressure',
];

const severityOf = (channel: RecordedChannel, empty: boolean): Pick<PlantedFault, 'severities' | 'because'> =>
  empty
    ? { severities: ['information', 'warning', 'error'], because: 'nothing wrong is read, something is missing: told, at any level' }
    : FUELLING.includes(channel.quantity)
      ? { severities: ['warning', 'error'], because: 'fuelling rests on this reading, and a wrong reading believed is worse than none' }
      : { severities: ['information', 'warning', 'error'], because: 'a side channel: told, at any level' };

const longEnough = (channel: RecordedChannel, random: Random): number => Math.min(3, Math.max(random.between(0.3, 3), 3.6 * channel.stepS));

const pickChannel = (recording: Recording, random: Random, allowed: readonly QuantityId[]): RecordedChannel | undefined => {
  const present = random
    .shuffled(allowed)
    .map((quantity) => channelOf(recording, quantity))
    .filter((channel) => channel !== undefined && channel.stepS <= 0.8);
  return present[0];
};

const put = (
  recording: Recording,
  channel: RecordedChannel,
  from: number,
  to: number,
  value: number | undefined,
  of: FaultClass,
  note: string,
): Recording => {
  const changed = edited(channel, (values) => {
    for (let sample = from; sample <= to; sample++) if (!Number.isNaN(values[sample])) values[sample] = value ?? NaN;
  });
  // the first and last cells hit, not the rows between the channel's own samples
  let first = from,
    last = to;
  while (first < to && Number.isNaN(channel.values[first])) first += 1;
  while (last > from && Number.isNaN(channel.values[last])) last -= 1;
  const spell = spellOf(recording, first, last);
  const empty = value === undefined;
  return withFault(withChannel(recording, changed), {
    class: of,
    channel: named(channel),
    spells: [spell],
    codes:
      of === 'dropout: frozen'
        ? ['sensor-dropout', 'channel-stuck']
        : empty
          ? ['sensor-dropout']
          : ['sensor-dropout', 'value-implausible', 'channel-clipped'],
    also: [],
    ...severityOf(channel, empty),
    // a hole may be said to begin with the last good sample or with the first missing one; a freeze, where its value was first met
    onsets: [
      [
        of === 'dropout: frozen' ? levelSinceS(recording, channel, first) - channel.stepS : spell[0] - (empty ? channel.stepS : 0),
        spell[0],
      ],
    ],
    twoSamplesS: twoSamplesS(recording, channel),
    note: `${channel.name} ${note}`,
  });
};

export const emptyDropout: Planter = (recording, random) => {
  const channel = pickChannel(recording, random, CANDIDATES);
  if (!channel) return undefined;
  const running = isRunning(recording);
  const spell = findSpell(
    recording,
    random,
    longEnough(channel, random),
    (from, to) => filledBetween(channel, from, to) >= 3 && every(from, to, running),
  );
  return spell && put(recording, channel, ...spell, undefined, 'dropout: empty', 'empty');
};

/** Values a channel can't take at this moment though its sensor may show them; undefined where the value would be believable. */
const impossible = (recording: Recording, channel: RecordedChannel, value: number) => {
  // a thermistor is known to 2 °C: a leap of less than twice that is none
  const width = Math.max(span(recording, channel), channel.quantity.endsWith('temperature') ? 12 : 0),
    running = isRunning(recording);
  const map = truthOf(recording, 'manifold-pressure'),
    throttle = truthOf(recording, 'throttle');
  // a cell that is not warm yet reads nothing, so it can't drop out
  const firstRunning = recording.state.findIndex((_, sample) => running(sample)),
    wakesAtS = firstRunning > 0 ? recording.timeS[firstRunning] + 35 : 0;
  return (from: number, to: number): boolean => {
    const [low, high] = extent(channel.values, Math.max(0, from - 3), to + 3);
    if (!every(Math.max(0, from - 2), to + 2, running) || filledBetween(channel, from, to) < 3) return false;
    if (Math.min(Math.abs(low - value), Math.abs(high - value)) < Math.max(width / 3, 1e-6) || (value > low && value < high)) return false;
    switch (channel.quantity) {
      // air in the pipe: lean end is right in overrun and just after it
      case 'lambda':
      case 'lambda-2':
        return (
          recording.timeS[from] > wakesAtS &&
          every(
            Math.max(0, from - Math.round(recording.rateHz)),
            to,
            (sample) =>
              recording.state[sample] !== 'overrun' && recording.state[sample] !== 'refuelling' && recording.state[sample] !== 'shift',
          )
        );
      // a foot can lift: the pressure says it did not
      case 'throttle':
        return (
          channelOf(recording, 'manifold-pressure') !== undefined &&
          map !== undefined &&
          throttle !== undefined &&
          (value < 10
            ? every(from, to, (sample) => map[sample] > 60 && throttle[sample] > 25)
            : every(from, to, (sample) => map[sample] < 60 && throttle[sample] < 35))
        );
      case 'vehicle-speed':
        return every(from, to, () => low > 25);
      case 'engine-speed':
        return (
          channelOf(recording, 'manifold-pressure') !== undefined || channelOf(recording, 'vehicle-speed') !== undefined || value > 12000
        );
      default:
        return true;
    }
  };
};

const jump =
  (
    of: FaultClass,
    valueOf: (channel: RecordedChannel, recording: Recording, random: Random) => number | undefined,
    allowed: readonly QuantityId[],
  ): Planter =>
  (recording, random) => {
    const channel = pickChannel(recording, random, allowed);
    if (!channel) return undefined;
    const value = valueOf(channel, recording, random);
    if (value === undefined) return undefined;
    const spell = findSpell(recording, random, longEnough(channel, random), impossible(recording, channel, value));
    return spell && put(recording, channel, ...spell, value, of, `at ${channel.written(value).toFixed(2)} ${channel.unit}`);
  };

/** 0 in the file's own unit (the number a logger writes for nothing). */
const zero = (channel: RecordedChannel): number | undefined => {
  // 0 °F is −17.8 °C; every other unit here has its zero at the canonical zero
  return channel.unit === '°F' ? -160 / 9 : 0;
};
export const zeroDropout = jump('dropout: zero', zero, [
  'lambda',
  'lambda',
  'lambda',
  'manifold-pressure',
  'manifold-pressure',
  'engine-speed',
  'throttle',
  'mass-air-flow',
  'intake-air-temperature',
  'coolant-temperature',
  'fuel-pressure',
  'battery-voltage',
  'vehicle-speed',
]);

export const fullScaleDropout = jump(
  'dropout: full scale',
  (channel, recording, random) => {
    const range = (recording.vehicle['lambdaSensor'] as { range?: readonly [number, number] } | undefined)?.range;
    switch (channel.quantity) {
      case 'lambda':
      case 'lambda-2':
        return range ? range[random.whole(0, 1)] : Math.max(extent(channel.values, 0, channel.values.length - 1)[1], 1.3);
      case 'manifold-pressure':
        return [105, 210, 255, 315, 400].find((top) => top > extent(channel.values, 0, channel.values.length - 1)[1] + 15);
      case 'throttle':
        return 100;
      case 'intake-air-temperature':
      case 'coolant-temperature':
        return random.pick([130, 150, 215]);
      case 'engine-speed':
        return random.pick([16383.75, 16383.75, 65535]);
      case 'fuel-pressure':
        return random.pick([765, 1000]);
      case 'mass-air-flow':
        return 655.35;
      case 'vehicle-speed':
        return 255;
      case 'battery-voltage':
        return random.pick([65.535, 20]);
      default:
        return undefined;
    }
  },
  [
    'lambda',
    'lambda',
    'lambda',
    'manifold-pressure',
    'manifold-pressure',
    'engine-speed',
    'throttle',
    'mass-air-flow',
    'intake-air-temperature',
    'coolant-temperature',
    'fuel-pressure',
    'vehicle-speed',
    'battery-voltage',
  ],
);

/** What the channel's own scale makes of 0 V or 5 V at the logger's input. */
export const openCircuitDropout = jump(
  'dropout: open circuit',
  (channel, recording, random) => {
    const range = (recording.vehicle['lambdaSensor'] as { range?: readonly [number, number] } | undefined)?.range ?? [0.68, 1.36];
    const at = (low: readonly [number, number], high: readonly [number, number], volt: number): number =>
      low[1] + ((volt - low[0]) * (high[1] - low[1])) / (high[0] - low[0]);
    const volt = random.pick([0, 5]);
    const top = extent(channel.values, 0, channel.values.length - 1)[1];
    switch (channel.quantity) {
      case 'lambda':
      case 'lambda-2':
        return random.chance(0.5) ? range[volt === 0 ? 0 : 1] : at([0.5, range[0]], [4.5, range[1]], volt);
      case 'manifold-pressure':
        return at([0.25, 10], [4.75, top > 200 ? 300 : top > 104 ? 200 : 105], volt);
      case 'throttle':
        return at([0.5, 0], [4.5, 100], volt);
      case 'intake-air-temperature':
      case 'coolant-temperature':
        return -40;
      case 'fuel-pressure':
        return at([0.5, 0], [4.5, 689], volt);
      default:
        return undefined;
    }
  },
  [
    'lambda',
    'lambda',
    'lambda',
    'manifold-pressure',
    'manifold-pressure',
    'throttle',
    'throttle',
    'intake-air-temperature',
    'coolant-temperature',
    'fuel-pressure',
  ],
);

export const frozenDropout: Planter = (recording, random) => {
  const channel = pickChannel(recording, random, [
    'lambda',
    'lambda',
    'manifold-pressure',
    'manifold-pressure',
    'engine-speed',
    'engine-speed',
    'throttle',
    'mass-air-flow',
  ]);
  if (!channel) return undefined;
  const usualS = longestRepeatS(recording, channel),
    width = span(recording, channel),
    running = isRunning(recording);
  const lengthS = longEnough(channel, random);
  if (lengthS < Math.max(0.3, 2 * usualS + channel.stepS)) return undefined;
  const spell = findSpell(recording, random, lengthS, (from, to) => {
    const held = channel.values[from];
    if (Number.isNaN(held) || filledBetween(channel, from, to) < 5 || !every(from, to, running)) return false;
    if (channel.quantity.startsWith('lambda') && !every(from, to, (sample) => recording.state[sample] !== 'overrun')) return false;
    const [low, high] = extent(channel.values, from, to);
    return Math.max(high - held, held - low) > 0.15 * width;
  });
  if (!spell) return undefined;
  return put(recording, channel, spell[0], spell[1], channel.values[spell[0]], 'dropout: frozen', 'frozen');
};
