// fuel-pressure-drop: the pressure over the injectors falls when fuel is wanted most.

import { formatNumber } from '../../quantities/format.js';
import { limitOf } from '../../formats/limits.js';
import { believed } from '../../signals/operating.js';
import type { Signals } from '../../signals/signals.js';
import { median, quantileOf, sortedSample } from '../../signals/statistics.js';
import type { Rule } from '../finding.js';
import { overLimit } from '../overLimit.js';
import { pullColumns, sampleLog, unrest } from '../sampleLog.js';
import { limitText, moreText, nameOf, spellFinding, whenText, whereText, worstFew } from '../spell.js';

/** Pressures far above any port injection's rise and fall by design. */
const DIRECT_INJECTION_KPA = 1500;
/** A rail that rises by at least this much of the manifold's rise is referenced to it. */
const FOLLOWS_FROM = 0.5;
/** Below this manifold pressure no pump is at its end. */
const LIGHT_KPA = 60;
/** Bands of manifold pressure that teach whether the rail follows, the readings each needs, and how far apart the outermost must lie. */
const BAND_KPA = 4, LEAST_IN_BAND = 5, LEAST_STRETCH_KPA = 6;
const MEAN_OVER_S = 0.3;
/** A regulator and the rail behind it follow the manifold this late: the lowest pressure of that time is what the rail must answer. */
const FOLLOWS_WITHIN_S = 0.35;

interface Droop { readonly percent: Float64Array; readonly baseKPa: number; readonly referenced: boolean }

/** Fall of the pressure that the regulator should hold, percent of what it holds at light load. Undefined where the log cannot tell. */
export const droopOf = (signals: Signals): Droop | undefined => {
  const rail = believed(signals, 'fuel-pressure'), manifold = believed(signals, 'manifold-pressure'), rpm = believed(signals, 'engine-speed');
  if (!rail || !manifold) return undefined;
  const { timeS, barometer } = signals;
  const count = rail.length;
  const light = new Float64Array(count).fill(NaN);
  const topKPa = Math.min(barometer.kPa - 12, Math.max(LIGHT_KPA, quantileOf(sortedSample(manifold), 0.7)));
  for (let i = 0; i < count; i++) if (!(rpm && !(rpm[i] > 500)) && manifold[i] <= topKPa && rail[i] > 20) light[i] = manifold[i];
  const slope = slopeOf(light, rail);
  if (slope === undefined) return undefined;
  const referenced = slope >= FOLLOWS_FROM;
  // Referenced: the difference to the manifold is held. Fixed: the gauge pressure is held, and the difference falls with boost by design.
  const { kPa } = barometer;
  const held = referenced ? rail.map((value, i) => value + kPa - manifold[i]) : rail;
  const baseKPa = median(held, (i) => light[i] === light[i]);
  if (!(baseKPa > 50) || baseKPa > DIRECT_INJECTION_KPA) return undefined;
  const fall = new Float64Array(count).fill(NaN);
  const answered = referenced ? lowestWithin(manifold, timeS, FOLLOWS_WITHIN_S) : manifold;
  for (let i = 0; i < count; i++) {
    if (!(rpm && !(rpm[i] > 500))) fall[i] = (1 - (referenced ? rail[i] + kPa - answered[i] : rail[i]) / baseKPa) * 100;
  }
  return { percent: centredMean(fall, timeS, MEAN_OVER_S), baseKPa, referenced };
};

/**
 * Rise of the rail for each kPa of the manifold at light load: a line through the medians of bands of manifold pressure, so that minutes of
 * idling weigh no more than the cruise. Undefined where the log holds too little, or too narrow a stretch, to tell.
 */
const slopeOf = (light: Float64Array, rail: Float64Array): number | undefined => {
  const bands = new Map<number, { x: number[]; y: number[] }>();
  const stride = Math.max(1, Math.floor(light.length / 20000));
  for (let i = 0; i < light.length; i += stride) {
    if (light[i] !== light[i]) continue;
    const at = Math.floor(light[i] / BAND_KPA);
    let band = bands.get(at);
    if (!band) bands.set(at, band = { x: [], y: [] });
    band.x.push(light[i]);
    band.y.push(rail[i]);
  }
  const points = [...bands.values()].filter(({ x }) => x.length >= LEAST_IN_BAND).map(({ x, y }) => [median(Float64Array.from(x)), median(Float64Array.from(y))] as const);
  const xs = points.map(([x]) => x);
  if (points.length < 2 || Math.max(...xs) - Math.min(...xs) < LEAST_STRETCH_KPA) return undefined;
  const meanX = xs.reduce((sum, x) => sum + x, 0) / points.length, meanY = points.reduce((sum, [, y]) => sum + y, 0) / points.length;
  let up = 0, across = 0;
  for (const [x, y] of points) { up += (x - meanX) * (y - meanY); across += (x - meanX) ** 2; }
  return up / across;
};

/** Lowest number of the `windowS` up to each sample. */
const lowestWithin = (values: Float64Array, timeS: Float64Array, windowS: number): Float64Array => {
  const lowest = new Float64Array(values.length).fill(NaN);
  // Samples that may still be the lowest, their values rising: a queue in one array.
  const queue = new Int32Array(values.length);
  let head = 0, tail = 0;
  for (let i = 0; i < values.length; i++) {
    if (values[i] === values[i]) {
      while (tail > head && values[queue[tail - 1]] >= values[i]) tail--;
      queue[tail++] = i;
    }
    while (head < tail && timeS[queue[head]] < timeS[i] - windowS) head++;
    if (head < tail) lowest[i] = values[queue[head]];
  }
  return lowest;
};

/** Mean of the numbers within half a window on both sides: a rail and a manifold sensor never answer in the same instant. */
const centredMean = (values: Float64Array, timeS: Float64Array, windowS: number): Float64Array => {
  const means = new Float64Array(values.length).fill(NaN);
  let from = 0, to = 0, sum = 0, numbers = 0;
  for (let i = 0; i < values.length; i++) {
    while (to < values.length && timeS[to] <= timeS[i] + windowS / 2) { if (values[to] === values[to]) { sum += values[to]; numbers++; } to++; }
    while (timeS[from] < timeS[i] - windowS / 2) { if (values[from] === values[from]) { sum -= values[from]; numbers--; } from++; }
    if (numbers > 0) means[i] = sum / numbers;
  }
  return means;
};

const live = pullColumns();
const rail = (fall: number) => (t: number): number => 300 + live['manifold pressure (kPa)'](t) - unrest(t, 0.6) - 101 + 1.2 * unrest(t + 2, 1) - (t > 5 && t < 8 ? fall * Math.min(1, t - 5) : 0);

export const rule: Rule = {
  code: 'fuel-pressure-drop',
  docs: {
    title: 'Fuel pressure falls under load',
    meaning: 'Flow through an injector goes with the square root of the pressure over it: 10 % less pressure is 5 % less fuel, and the mixture goes lean by as much. A table cannot fix a pump.',
    computed: 'First the log teaches whether the rail follows the manifold (at light load, by the medians of bands of 4 kPa, so that minutes of idling weigh no more than the cruise). If it does, the pressure over the injector (rail gauge + barometer − manifold) must hold its light-load median; if it does not, the gauge pressure itself must, since the difference then falls with boost by design. '
      + 'The rail may answer the manifold up to 0.35 s late. The mean over 0.3 s is held against the limits for `fuelPressureDropS` or longer. Without manifold pressure nothing is said, and direct injection (above 1500 kPa) is left alone. Orifice law: Q2 = Q1 √(Δp2 / Δp1).',
    causes: ['A pump at its end, or its wiring, relay or ground', 'A clogged filter or strainer', 'A regulator that lags or loses its vacuum hose', 'A tank run low in a corner'],
    checkFirst: 'Voltage at the pump under load, then the filter, then the pump.',
    limits: ['fuelPressureDropPercent', 'fuelPressureDropErrorPercent', 'fuelPressureDropS'],
  },
  sample: () => ({
    firing: `=== a.session.csv\n${sampleLog(16, 0.1, { ...live, 'manifold pressure (kPa)': (t) => live['manifold pressure (kPa)'](t) + (t < 2 || t > 8 ? 15 * Math.sin(t) : 0), 'fuel pressure (kPa gauge)': (t) => rail(45)(t) + (t < 2 || t > 8 ? 15 * Math.sin(t) : 0) }, 1)}`,
    quiet: `=== a.session.csv\n${sampleLog(16, 0.1, { ...live, 'manifold pressure (kPa)': (t) => live['manifold pressure (kPa)'](t) + (t < 2 || t > 8 ? 15 * Math.sin(t) : 0), 'fuel pressure (kPa gauge)': (t) => rail(0)(t) + (t < 2 || t > 8 ? 15 * Math.sin(t) : 0) }, 1)}`,
  }),
  session: (signals) => {
    const droop = droopOf(signals), channel = signals.channel('fuel-pressure');
    if (!droop || !channel) return [];
    const { limits } = signals.vehicle;
    const error = limitOf('fuelPressureDropErrorPercent', limits).value;
    return worstFew(overLimit(signals, droop.percent, limitOf('fuelPressureDropPercent', limits).value, { leastS: limitOf('fuelPressureDropS', limits).value }), (a, b) => b.peak - a.peak).map(({ spell, more }) => {
      const bad = spell.peak >= error;
      return spellFinding(signals, channel, spell, {
        code: 'fuel-pressure-drop', severity: bad ? 'error' : 'warning',
        message: `${nameOf(channel)}: the ${droop.referenced ? 'pressure over the injectors' : 'rail pressure'} falls by ${formatNumber(spell.peak, 0)} % of its ${formatNumber(droop.baseKPa, 0)} kPa (${limitText(signals, bad ? 'fuelPressureDropErrorPercent' : 'fuelPressureDropPercent')}) ${whenText(signals, spell)}${whereText(signals, spell.peakAt)}. `
          + `That alone takes ${formatNumber((1 - Math.sqrt(Math.max(0, 1 - spell.peak / 100))) * 100, 0)} % of the fuel. ${bad ? 'Stop the pulls; check' : 'Check'} pump voltage under load, then filter and pump.${moreText(more)}`,
        data: { peakPercent: spell.peak, baseKPa: droop.baseKPa, referenced: droop.referenced, more },
      });
    });
  },
};
