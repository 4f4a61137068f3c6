// Faults of the engine: lean under load, falling fuel pressure, knock, duty, heat, misfire, an exhaust leak.
// Sizes stay clear of each limit (section 9 of the reference values) by a quarter of it or more, so that the right severity is not a matter
// of noise.

import type { Random } from './random.js';
import type { RecordedChannel, Recording, Spell } from './recording.js';
import { channelOf, sampleAt, withChannel, withFault } from './recording.js';
import {
  edited,
  every,
  extent,
  findSpell,
  isFree,
  isLoaded,
  isRunning,
  named,
  spellOf,
  stretches,
  truthOf,
  twoSamplesS,
  type Planter,
} from './places.js';

/** A pull (or stretch under load) of the length or more that no other fault touches. */
const loadedStretch = (recording: Recording, random: Random, leastS: number): [from: number, to: number] | undefined => {
  const found = stretches(recording, isLoaded(recording), leastS).filter(([from, to]) =>
    isFree(recording, recording.timeS[from] - 1, recording.timeS[to] + 1),
  );
  return found.length > 0 ? random.pick(found) : undefined;
};

/** First time at which the values exceed a level between two samples; undefined where they never do. */
const crossing = (recording: Recording, from: number, to: number, value: (sample: number) => number, level: number): number | undefined => {
  for (let sample = from; sample <= to; sample++) if (value(sample) >= level) return recording.timeS[sample];
  return undefined;
};

/** Rises from 0 to 1 over the first part of a spell and stays. */
const ramp =
  (recording: Recording, from: number, to: number, part: number) =>
  (sample: number): number =>
    Math.min(
      1,
      Math.max(0, (recording.timeS[sample] - recording.timeS[from]) / Math.max(0.05, part * (recording.timeS[to] - recording.timeS[from]))),
    );

/**
 * A pump that fades in a pull: pressure over the injector falls, lambda rises by the root of it (orifice law).
 * Visible: a target is logged, or boost and lambda beyond 0.95; the excess stays above the limit for 0.5 s and four samples or more.
 */
const fadingPump =
  (withPressure: boolean, slight: boolean): Planter =>
  (recording, random) => {
    const lambda = channelOf(recording, 'lambda'),
      target = truthOf(recording, 'target-lambda'),
      rail = channelOf(recording, 'fuel-pressure');
    if (!lambda || !target || withPressure !== (rail !== undefined)) return undefined;
    if (slight && channelOf(recording, 'target-lambda') === undefined) return undefined;
    const stretch = loadedStretch(recording, random, Math.max(2.2, 11 / recording.rateHz));
    if (!stretch) return undefined;
    const from = sampleAt(recording, recording.timeS[stretch[0]] + 0.3),
      to = stretch[1];
    const rise = ramp(recording, from, to, 0.5);
    const map = truthOf(recording, 'manifold-pressure')!;
    const base = target[to];
    const excess = slight ? random.between(0.0375, 0.0425) : random.between(0.09, 0.2);
    const top = (base + excess) / base;
    const leaner = (values: Float64Array): void => {
      for (let sample = from; sample < values.length; sample++) {
        if (Number.isNaN(values[sample])) continue;
        if (sample > to) {
          // what was burnt lean still has to pass the sensor
          const passed = (recording.timeS[sample] - recording.timeS[to]) / 0.15;
          if (passed > 1) break;
          values[sample] *= 1 + (top - 1) * (1 - passed);
        } else if (slight)
          values[sample] =
            values[sample] * (1 - rise(sample)) + rise(sample) * (target[sample] + excess + 0.2 * (values[sample] - target[sample]));
        else values[sample] *= 1 + (top - 1) * rise(sample);
      }
    };
    const changed = edited(lambda, leaner);
    // one pump feeds both banks
    const second = channelOf(recording, 'lambda-2');
    const secondChanged = second && edited(second, leaner);
    const over = (sample: number): number =>
      Math.max(changed.values[sample], secondChanged ? secondChanged.values[sample] : -Infinity) - target[sample];
    const beyond = stretches(recording, (sample) => sample >= from && sample <= to && over(sample) > (slight ? 0.031 : 0.06), 0);
    const longest = Math.max(0, ...beyond.map(([a, b]) => recording.timeS[b] - recording.timeS[a]));
    if (longest < Math.max(0.5, 3 / recording.rateHz)) return undefined;
    if (
      slight &&
      stretches(recording, (sample) => sample >= from && sample <= to && over(sample) > 0.049, 0).some(
        ([a, b]) => recording.timeS[b] - recording.timeS[a] > 0.1,
      )
    )
      return undefined;
    if (channelOf(recording, 'target-lambda') === undefined) {
      const absolute = stretches(
        recording,
        (sample) => sample >= from && sample <= to && changed.values[sample] > 0.965 && map[sample] > 125,
        Math.max(0.5, 3 / recording.rateHz),
      );
      if (absolute.length === 0 || channelOf(recording, 'manifold-pressure') === undefined) return undefined;
    }
    const soonS = crossing(recording, from, to, over, 0.025) ?? recording.timeS[from];
    const lateS = channelOf(recording, 'target-lambda')
      ? crossing(recording, from, to, over, slight ? 0.035 : 0.055)
      : crossing(recording, from, to, (sample) => changed.values[sample], 0.955);
    const spell = spellOf(recording, from, to);
    let result = withFault(secondChanged ? withChannel(withChannel(recording, changed), secondChanged) : withChannel(recording, changed), {
      class: slight
        ? 'lean under load: slight'
        : withPressure
          ? 'lean under load: fading pump, pressure logged'
          : 'lean under load: fading pump, no pressure',
      channel: named(lambda),
      spells: [spell],
      codes: ['lean-under-load'],
      also: ['fuel-pressure-drop', 'injector-duty-high', 'knock'],
      severities: slight ? ['warning'] : ['error'],
      because: slight
        ? '0.03 to 0.05 above target under load for more than 0.2 s'
        : 'more than 0.05 above target (or 0.95 under boost) for more than 0.2 s under load: the engine is at risk',
      // read late by the pipe, or put back to when it was burnt; from the warning limit to the error limit
      onsets: [[soonS - 0.15, lateS ?? soonS]],
      twoSamplesS: twoSamplesS(recording, lambda),
      note: `+${excess.toFixed(3)} over ${(spell[1] - spell[0]).toFixed(1)} s`,
    });
    if (rail && !slight) {
      const share = 1 - 1 / top ** 2;
      result = dropPressure(result, rail, from, to, share, rise, true) ?? result;
    }
    return result;
  };
export const leanWithPressure = fadingPump(true, false),
  leanWithoutPressure = fadingPump(false, false);
export const leanSlight: Planter = (recording, random) =>
  fadingPump(channelOf(recording, 'fuel-pressure') !== undefined, true)(recording, random);

/** Takes a share of the pressure over the injector away. */
const dropPressure = (
  recording: Recording,
  rail: RecordedChannel,
  from: number,
  to: number,
  share: number,
  rise: (sample: number) => number,
  beside = false,
): Recording | undefined => {
  const map = truthOf(recording, 'manifold-pressure'),
    barometer = truthOf(recording, 'barometric-pressure');
  const over = (sample: number): number => rail.values[sample] - (map ? map[sample] - (barometer ? barometer[sample] : 100) : 0);
  const lost = (sample: number): number =>
    sample >= from && sample <= to
      ? share * rise(sample)
      : sample > to
        ? share * Math.max(0, 1 - (recording.timeS[sample] - recording.timeS[to]) / 0.4)
        : 0;
  const changed = edited(rail, (values) => {
    for (let sample = from; sample < values.length; sample++) values[sample] -= over(sample) * lost(sample);
  });
  if (!beside && channelOf(recording, 'fuel-pressure') === undefined) return undefined;
  const sharp = share >= 0.125;
  if (!sharp && (share < 0.06 || share > 0.08)) return withChannel(recording, changed);
  const spell = spellOf(recording, from, to);
  return withFault(withChannel(recording, changed), {
    class: 'fuel pressure falls',
    channel: named(rail),
    spells: [spell],
    codes: ['fuel-pressure-drop'],
    also: ['lean-under-load', 'injector-duty-high'],
    severities: [sharp ? 'error' : 'warning'],
    because: sharp
      ? '10 % less pressure over the injector is 5 % less fuel (orifice law): error from 10 %'
      : '5 to 10 % less pressure over the injector: warning',
    onsets: [
      [crossing(recording, from, to, lost, 0.025) ?? spell[0], crossing(recording, from, to, lost, sharp ? 0.11 : 0.06) ?? spell[1]],
    ],
    twoSamplesS: twoSamplesS(recording, rail),
    note: `−${(100 * share).toFixed(1)} % over the injector`,
  });
};

/**
 * The pressure alone falls (a fading pump whose want of fuel the trims or the pressure model still cover).
 * Visible: the rail follows the manifold and manifold pressure is logged, or there is no boost; 1 s and four samples or more below the
 * limit.
 */
export const fuelPressureFalls: Planter = (recording, random) => {
  const rail = channelOf(recording, 'fuel-pressure'),
    map = channelOf(recording, 'manifold-pressure');
  if (!rail || !map || !followsManifold(recording, rail)) return undefined;
  const stretch = loadedStretch(recording, random, Math.max(2.5, 11 / recording.rateHz));
  if (!stretch) return undefined;
  const share = random.chance(0.5) ? random.between(0.0675, 0.0775) : random.between(0.135, 0.3);
  return dropPressure(recording, rail, ...stretch, share, ramp(recording, ...stretch, 0.4));
};

const followsManifold = (recording: Recording, rail: RecordedChannel): boolean => {
  const map = truthOf(recording, 'manifold-pressure')!,
    running = isRunning(recording);
  let sumX = 0,
    sumY = 0,
    sumXX = 0,
    sumXY = 0,
    count = 0;
  rail.values.forEach((value, sample) => {
    if (!Number.isNaN(value) && running(sample)) {
      const x = map[sample];
      sumX += x;
      sumY += value;
      sumXX += x * x;
      sumXY += x * value;
      count += 1;
    }
  });
  const slope = (sumXY - (sumX * sumY) / count) / (sumXX - (sumX * sumX) / count);
  return slope > 0.8 && slope < 1.2;
};

/** Visible: two samples or more above the limit, in a pull. */
export const knock: Planter = (recording, random) => {
  const channel = channelOf(recording, 'knock-retard');
  if (!channel) return undefined;
  const stretch = loadedStretch(recording, random, Math.max(1.5, 6 / recording.rateHz));
  if (!stretch) return undefined;
  const sharp = random.chance(0.5),
    peak = sharp ? random.between(5, 9) : random.between(2.6, 3.4);
  const from = sampleAt(recording, random.between(recording.timeS[stretch[0]], recording.timeS[stretch[1]] - 1));
  const holdS = Math.max(random.between(0.15, 0.8), 2.5 / recording.rateHz),
    perS = random.between(2, 5);
  const changed = edited(channel, (values) => {
    for (let sample = from; sample < values.length; sample++) {
      const value = peak - Math.max(0, recording.timeS[sample] - recording.timeS[from] - holdS) * perS;
      if (value <= 0) break;
      values[sample] = Math.max(values[sample], value);
    }
  });
  const toS = recording.timeS[from] + holdS + peak / perS;
  return withFault(withChannel(recording, changed), {
    class: 'knock',
    channel: named(channel),
    spells: [[recording.timeS[from], toS]],
    codes: ['knock'],
    also: [],
    severities: [sharp ? 'error' : 'warning'],
    because: sharp ? '4° or more taken back under load' : '2° to 4° taken back under load',
    onsets: [[recording.timeS[from], recording.timeS[from]]],
    twoSamplesS: twoSamplesS(recording, channel),
    note: `${peak.toFixed(1)}°`,
  });
};

/** Visible: duty, or pulse width and engine speed, above the limit for 0.3 s and three samples or more. */
export const injectorDuty: Planter = (recording, random) => {
  const duty = channelOf(recording, 'injector-duty'),
    pulse = channelOf(recording, 'injector-pulse-width'),
    speed = truthOf(recording, 'engine-speed')!;
  if ((!duty && !pulse) || recording.faults.some((fault) => fault.class === 'injector duty')) return undefined;
  const running = isRunning(recording),
    trueDuty = truthOf(recording, 'injector-duty') ?? duty?.values;
  if (!trueDuty) return undefined;
  const most = trueDuty.reduce((high, value, sample) => (running(sample) && value > high ? value : high), 0);
  const sharp = random.chance(0.5),
    peak = sharp ? random.between(100, 112) : random.between(89, 92.5),
    factor = peak / most;
  // every moment beyond the limit may be told; one of them at least must be long enough to be seen
  const spells = stretches(recording, (sample) => running(sample) && trueDuty[sample] * factor > 84, 0);
  const seen = stretches(recording, (sample) => running(sample) && trueDuty[sample] * factor > 85, Math.max(0.3, 2 / recording.rateHz));
  if (seen.length === 0) return undefined;
  if (
    sharp &&
    stretches(recording, (sample) => running(sample) && trueDuty[sample] * factor > 96, Math.max(0.3, 2 / recording.rateHz)).length === 0
  )
    return undefined;
  let changed = recording;
  for (const channel of [duty, pulse]) {
    if (channel)
      changed = withChannel(
        changed,
        edited(channel, (values) => {
          values.forEach((value, sample) => {
            if (running(sample)) values[sample] = channel === duty ? Math.min(130, value * factor) : value * factor;
          });
        }),
      );
  }
  const channel = (duty ?? pulse)!;
  if (
    spells.some(
      ([from, to]) => !isFree(recording, recording.timeS[from], recording.timeS[to]) || !every(from, to, (sample) => speed[sample] > 500),
    )
  )
    return undefined;
  const times = spells.map(([from, to]): Spell => spellOf(recording, from, to));
  return withFault(
    { ...changed, vehicle: { ...changed.vehicle, injectors: {} } },
    {
      class: 'injector duty',
      channel: named(channel),
      spells: times,
      codes: ['injector-duty-high'],
      also: [],
      severities: [sharp ? 'error' : 'warning', ...(sharp ? ['warning' as const] : [])],
      because: sharp
        ? 'above 95 % at the peak: error there; a pull of the same log that stays below may be a warning'
        : 'between 85 and 95 %',
      onsets: seen.map(([from, to]): Spell => spellOf(recording, from, to)).map(([fromS]): Spell => [fromS - 0.1, fromS]),
      twoSamplesS: twoSamplesS(recording, channel),
      note: `${peak.toFixed(0)} %${duty ? '' : ' by pulse width'}`,
    },
  );
};

/** A slow hump: up, stays, down again. */
const hump = (recording: Recording, channel: RecordedChannel, fromS: number, upS: number, stayS: number, peak: number): RecordedChannel =>
  edited(channel, (values) => {
    for (let sample = sampleAt(recording, fromS); sample < values.length; sample++) {
      if (Number.isNaN(values[sample])) continue;
      const t = recording.timeS[sample] - fromS;
      const part = t < upS ? t / upS : t < upS + stayS ? 1 : 1 - (t - upS - stayS) / upS;
      if (part < 0) break;
      values[sample] += (peak - values[sample]) * Math.sin((part * Math.PI) / 2) ** 2;
    }
  });

/** Visible: a pull of 1 s and three of the channel's samples or more while the intake air is beyond the limit. */
export const intakeHot: Planter = (recording, random) => {
  const channel = channelOf(recording, 'intake-air-temperature');
  if (!channel) return undefined;
  const stretch = loadedStretch(recording, random, Math.max(1.5, 3 * channel.stepS, 4 / recording.rateHz));
  if (!stretch) return undefined;
  const sharp = random.chance(0.5),
    peak = sharp ? random.between(78, 95) : random.between(55, 64);
  const [aS, bS] = spellOf(recording, ...stretch),
    upS = random.between(12, 25);
  const fromS = aS - upS - 1,
    toS = bS + 1 + upS;
  if (!isFree(recording, fromS, toS)) return undefined;
  const changed = hump(recording, channel, fromS, upS, bS - aS + 2, peak);
  const firstS = crossing(recording, sampleAt(recording, fromS), sampleAt(recording, toS), (sample) => changed.values[sample], 49.5) ?? aS;
  return withFault(withChannel(recording, changed), {
    class: 'intake air hot',
    channel: named(channel),
    spells: [[fromS, toS]],
    codes: ['intake-air-hot'],
    also: [],
    severities: [sharp ? 'error' : 'warning'],
    because: sharp ? '70 °C or more under load' : '50 to 70 °C under load',
    onsets: [[firstS, aS]],
    twoSamplesS: twoSamplesS(recording, channel),
    note: `${peak.toFixed(0)} °C`,
  });
};

/** Visible: 5 s or more beyond the limit with the engine running. */
export const coolantHot: Planter = (recording, random) => {
  const channel = channelOf(recording, 'coolant-temperature');
  if (!channel) return undefined;
  const sharp = random.chance(0.5),
    peak = sharp ? random.between(119, 128) : random.between(108, 112),
    upS = random.between(30, 60),
    stayS = random.between(8, 30);
  const running = isRunning(recording);
  const spell = findSpell(
    recording,
    random,
    2 * upS + stayS,
    (from, to) => every(from, to, running) && extent(channel.values, from, from + 200)[0] > 70,
  );
  if (!spell) return undefined;
  const [fromS, toS] = spellOf(recording, ...spell);
  const changed = hump(recording, channel, fromS, upS, stayS, peak);
  const firstS = crossing(recording, spell[0], spell[1], (sample) => changed.values[sample], 104.4) ?? fromS;
  const surelyS = crossing(recording, spell[0], spell[1], (sample) => changed.values[sample], 106) ?? firstS;
  return withFault(withChannel(recording, changed), {
    class: 'coolant hot',
    channel: named(channel),
    spells: [[fromS, toS]],
    codes: ['coolant-hot'],
    also: ['trouble-code'],
    severities: [sharp ? 'error' : 'warning'],
    because: sharp ? '115 °C or more' : '105 to 115 °C',
    onsets: [[firstS, surelyS]],
    twoSamplesS: twoSamplesS(recording, channel),
    note: `${peak.toFixed(0)} °C`,
  });
};

/**
 * Bank 1 misfires: unburnt air reads lean and raw, engine speed shakes, the short trim of the bank climbs and does not help; bank 2 stays.
 * Visible: both banks and engine speed are logged, 3 s and eight samples or more.
 */
export const misfire: Planter = (recording, random) => {
  const one = channelOf(recording, 'lambda'),
    two = channelOf(recording, 'lambda-2'),
    speed = channelOf(recording, 'engine-speed');
  if (!one || !two || !speed) return undefined;
  const lengthS = Math.max(random.between(4, 12), 9 / recording.rateHz),
    rich = random.between(0.12, 0.3);
  const trim = channelOf(recording, 'short-term-fuel-trim');
  const calm = (sample: number): boolean =>
    ['idle', 'cruise'].includes(recording.state[sample]) && (truthOf(recording, 'coolant-temperature')?.[sample] ?? 90) > 72;
  const spell = findSpell(
    recording,
    random,
    lengthS,
    (from, to) => every(Math.max(0, from - Math.round(recording.rateHz)), to, calm),
    1500,
  );
  if (!spell) return undefined;
  const [from, to] = spell,
    fromS = recording.timeS[from];
  let changed = withChannel(
    recording,
    edited(one, (values) => {
      for (let at = from; at <= to; at++) values[at] *= 1 + rich * (0.6 + 0.8 * random.next());
    }),
  );
  changed = withChannel(
    changed,
    edited(speed, (values) => {
      for (let at = from; at <= to; at++) values[at] *= 0.965 + random.between(-0.035, 0.03);
    }),
  );
  if (trim)
    changed = withChannel(
      changed,
      edited(trim, (values) => {
        for (let at = from; at <= to; at++) values[at] += Math.min(16, 5 * (recording.timeS[at] - fromS));
      }),
    );
  return withFault(changed, {
    class: 'misfire on one bank',
    channel: named(one),
    spells: [spellOf(recording, from, to)],
    codes: ['misfire-suspected'],
    also: [],
    severities: ['warning', 'error'],
    because: 'unburnt fuel reaches the catalyst and the reading invites enriching an engine that is not lean',
    onsets: [[fromS, fromS]],
    twoSamplesS: twoSamplesS(recording, one),
    note: `reads +${(100 * rich).toFixed(0)} %${trim ? ', trim climbs' : ''}`,
  });
};

/**
 * Air drawn in before the sensor: reads lean at idle, less the more gas flows, nothing under load, while the engine's own trims are
 * content.
 * Visible: a target and the short trim are logged; 25 s or more of warm idle in two spells or more.
 */
export const exhaustLeak: Planter = (recording, random) => {
  const lambda = channelOf(recording, 'lambda'),
    speed = truthOf(recording, 'engine-speed')!,
    map = truthOf(recording, 'manifold-pressure')!,
    coolant = truthOf(recording, 'coolant-temperature');
  if (!lambda || !channelOf(recording, 'target-lambda') || !channelOf(recording, 'short-term-fuel-trim') || recording.faults.length > 0)
    return undefined;
  const idles = stretches(recording, (sample) => recording.state[sample] === 'idle' && (coolant?.[sample] ?? 90) > 72, 5);
  if (idles.length < 2 || idles.reduce((sum, [a, b]) => sum + recording.timeS[b] - recording.timeS[a], 0) < 25) return undefined;
  const size = random.between(0.09, 0.18);
  const drawnIn = (sample: number): number => size / Math.max(0.8, (speed[sample] / 800) * (map[sample] / 35)) ** 1.3;
  // clear of the limit as this engine idles: a fast or loaded idle thins the leak
  const atIdle = idles.flatMap(([a, b]) => Array.from({ length: b - a + 1 }, (_, k) => drawnIn(a + k))).sort((a, b) => a - b);
  if (atIdle[atIdle.length >> 1] < 0.075) return undefined;
  const changed = edited(lambda, (values) => {
    values.forEach((value, sample) => {
      if (!Number.isNaN(value) && speed[sample] > 400) values[sample] = Math.min(2, value * (1 + drawnIn(sample)));
    });
  });
  return withFault(withChannel(recording, changed), {
    // it shows best in warm idle, and is there all the time
    class: 'exhaust leak at idle',
    channel: named(lambda),
    spells: [spellOf(recording, 0, recording.timeS.length - 1)],
    codes: ['sensor-mount', 'misfire-suspected'],
    also: ['value-implausible'],
    severities: ['information', 'warning'],
    because: 'lean at light load is a note; the reading is not to be believed at idle',
    twoSamplesS: twoSamplesS(recording, lambda),
    note: `+${(100 * size).toFixed(0)} % at idle`,
  });
};
