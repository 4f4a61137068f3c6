// From a spell of samples to a finding: its place, its time, the usual words for when and against which limit.

import { formatNumber } from '../quantities/format.js';
import type { QuantityId } from '../quantities/quantity.js';
import { limitOf, type LimitId, type LimitInForce } from '../formats/limits.js';
import type { Channel } from '../formats/session/session.js';
import type { Leaps } from '../signals/faults/channelFaults.js';
import type { Fault, Signals, Span } from '../signals/signals.js';
import type { Finding, FindingCode, Severity } from './finding.js';

/** A channel as messages name it: the header's own word. */
export const nameOf = (channel: Channel): string => channel.name;

/** The spell's times, from its first to its last sample's end. */
export const timesOf = ({ timeS }: Signals, span: Span): readonly [number, number] => [timeS[span.from], endS(timeS, span.from, span.to)];

const endS = (timeS: Float64Array, from: number, to: number): number =>
  to < timeS.length && timeS[to] - timeS[to - 1] < 1 ? timeS[to] : timeS[Math.max(from, to - 1)];

/** Seconds from one of the spell's times to the other. */
export const lastingS = ({ timeS }: Signals, span: Span): number => endS(timeS, span.from, span.to) - timeS[span.from];

export const spellFinding = (
  signals: Signals,
  channel: Channel,
  span: Span,
  finding: { code: FindingCode; severity: Severity; message: string; data?: Finding['data'] },
): Finding => ({
  ...finding,
  range: signals.session.places.spanRange(channel.index, span.from, Math.max(span.from, span.to - 1)),
  channel: channel.quantity ?? channel.name,
  timeS: timesOf(signals, span),
});

/** `at 16.2 s`, `for 0.8 s at 16.2 s`. */
export const whenText = (signals: Signals, span: Span): string => {
  const [fromS, toS] = timesOf(signals, span);
  return `for ${formatNumber(toS - fromS, toS - fromS < 9.95 ? 1 : 0)} s at ${formatNumber(fromS, 1)} s`;
};

/** Where the engine stood at the worst moment: the operating point is the reading's own, near enough for words. */
export const whereText = (signals: Signals, sample: number): string => {
  const parts: string[] = [];
  const at = (quantity: QuantityId): number => signals.held(quantity)?.[sample] ?? NaN;
  const rpm = at('engine-speed'),
    pressure = at('manifold-pressure'),
    throttle = pressure === pressure ? NaN : at('throttle');
  if (rpm === rpm) parts.push(`${formatNumber(rpm, 0)} rpm`);
  if (pressure === pressure) parts.push(`${formatNumber(pressure, 0)} kPa`);
  else if (throttle === throttle) parts.push(`${formatNumber(throttle, 0)} % throttle`);
  return parts.length > 0 ? ` (${parts.join(', ')})` : '';
};

/** How far two values stand apart as a reader works it out from the two shown: the difference of the rounded numbers. */
export const apartText = (greater: number, lesser: number, digits: number): string =>
  formatNumber(Number(greater.toFixed(digits)) - Number(lesser.toFixed(digits)), digits);

/** `limit 85 %, set in vehicle.json` or `limit 85 %, default by common practice`. */
export const limitText = (signals: Pick<Signals, 'vehicle'>, id: LimitId, digits?: number): string =>
  limitWords(limitOf(id, signals.vehicle.limits), digits);

/** The same of a limit already looked up. */
export const limitWords = ({ value, from, limit }: LimitInForce, digits?: number): string => {
  const number = digits === undefined ? String(Number(value.toPrecision(6))) : formatNumber(value, digits);
  return `limit ${limit.unit === 'λ' ? `λ ${number}` : limit.unit === '°' ? `${number}°` : `${number} ${limit.unit}`}, ${from === 'vehicle.json' ? 'set in vehicle.json' : `default by ${limit.source.split(/[,:]/)[0]}`}`;
};

/** Spells of a channel that are told one by one. */
const MOST_TOLD = 5;

/** The `most` of the leaps that last longest, the first of those that last as long. */
export const longestLeaps = ({ timeS }: Signals, leaps: Leaps, most = MOST_TOLD): Fault[] => {
  const longest: number[] = [],
    lastingS: number[] = [];
  for (
    let index = 0;
    (index = nextLonger(timeS, leaps.from, leaps.to, index, leaps.size, longest.length < most ? -Infinity : lastingS[most - 1])) <
    leaps.size;
    index++
  ) {
    const lastsS = endS(timeS, leaps.from[index], leaps.to[index]) - timeS[leaps.from[index]];
    let at = Math.min(longest.length, most - 1);
    for (; at > 0 && lastsS > lastingS[at - 1]; at--) {
      longest[at] = longest[at - 1];
      lastingS[at] = lastingS[at - 1];
    }
    longest[at] = index;
    lastingS[at] = lastsS;
  }
  return longest.map((index) => leaps.at(index));
};

/** The first span from one on that lasts longer; `size` where there is none. */
const nextLonger = (timeS: Float64Array, from: Int32Array, to: Int32Array, first: number, size: number, thanS: number): number => {
  for (let k = first; k < size; k++) if (endS(timeS, from[k], to[k]) - timeS[from[k]] > thanS) return k;
  return size;
};

/**
 * At most `most` of the spells, told one by one; what is left over, with the `others` that are surely none of them, is said behind one of
 * them (`check.ts` moves it to the last shown):
 * `And 3 more like it, none worse.`
 */
export const worstFew = <T>(
  spells: readonly T[],
  worse: (a: T, b: T) => number,
  most = MOST_TOLD,
  others = 0,
): { spell: T; more: number }[] => {
  if (spells.length + others <= most) return spells.map((spell) => ({ spell, more: 0 }));
  // The few are picked in one pass: a broken channel has a hundred thousand spells, and sorting them all is slow.
  const worst: T[] = [];
  for (const spell of spells) {
    if (worst.length === most && worse(spell, worst[most - 1]) >= 0) continue;
    let at = Math.min(worst.length, most - 1);
    for (; at > 0 && worse(spell, worst[at - 1]) < 0; at--) worst[at] = worst[at - 1];
    worst[at] = spell;
  }
  return worst.map((spell, index) => ({ spell, more: index === most - 1 ? spells.length + others - most : 0 }));
};

export const moreText = (more: number): string => (more > 0 ? ` And ${more} more like it, none worse.` : '');

/** A message without what `moreText` put behind it, and how many that spoke of. */
export const withoutMore = (message: string): { readonly message: string; readonly more: number } => {
  const match = / And (\d+) more like it, none worse\.$/.exec(message);
  return match ? { message: message.slice(0, match.index), more: Number(match[1]) } : { message, more: 0 };
};
