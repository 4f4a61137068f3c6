// What a session could be judged by, and what not: said behind the findings, so that silence is not taken for more than it is.

import { isGuessed } from '../findings/rules/coolant-hot.js';
import { isOfHead } from '../formats/session/headTemperature.js';
import { ASSUMED_TARGET_BOOST, ASSUMED_TARGET_LOAD, unjudgedFuel } from '../signals/mixture/offTarget.js';
import { formatNumber } from '../quantities/format.js';
import { QUANTITIES, type QuantityId } from '../quantities/quantity.js';
import { UNITS } from '../quantities/units.js';
import { believed } from '../signals/drive/operating.js';
import { showsMixture } from '../signals/drive/pulls.js';
import type { Signals } from '../signals/signals.js';
import { extremes } from '../signals/columns/statistics.js';
import { trimsTaken } from '../signals/mixture/untoldTrims.js';
import type { SessionDoubt } from '../fueling/evidence.js';
import { unreadOf, unreadWords } from '../fueling/doubts/unread.js';

export interface Scope {
  readonly pulls: number;
  /** Pulls in which a lambda reading of full load could be believed. */
  readonly judged: number;
  /** Where the target is from; undefined where it is assumed. */
  readonly target?: 'channel' | 'table';
  /** Titles of what findings of the engine rest on and is not logged. */
  readonly notLogged: readonly string[];
  /** What is logged and no finding judges, with its range. */
  readonly notJudged: readonly (readonly [title: string, range: string])[];
  /** Headers that are not recognised, and why less may be concluded. */
  readonly unread: readonly string[];
  readonly doubts: readonly SessionDoubt[];
  /** A fuel whose mixture is not judged for want of a target. */
  readonly unjudged?: string;
  /** What is taken of trims that are not logged. */
  readonly taken?: string;
}

/** What findings of the engine rest on, beside engine speed, load and mixture. */
const RESTED_ON: readonly QuantityId[] = [
  'knock-retard',
  'injector-duty',
  'fuel-pressure',
  'intake-air-temperature',
  'coolant-temperature',
];
const NEVER_JUDGED: readonly QuantityId[] = ['oil-pressure', 'ignition-advance'];

export function scopeOf(signals: Signals): Scope {
  const pulls = signals.events.filter(({ kind }) => kind === 'pull');
  const logs = (quantity: QuantityId): boolean =>
    signals.channel(quantity) !== undefined || (quantity === 'injector-duty' && signals.channel('injector-pulse-width') !== undefined);
  const coolant = signals.channel('coolant-temperature'),
    headOnly: readonly QuantityId[] = coolant && isOfHead(coolant) ? ['coolant-temperature'] : [];
  const exhaust = signals.channel('exhaust-gas-temperature'),
    guessed: readonly QuantityId[] = exhaust && isGuessed(exhaust) ? ['exhaust-gas-temperature'] : [];
  const notJudged = [...NEVER_JUDGED, ...headOnly, ...guessed].flatMap((quantity): Scope['notJudged'] => {
    const { unit } = QUANTITIES[quantity],
      title =
        quantity === 'oil-pressure'
          ? 'oil pressure (but for falls and next to none)'
          : quantity === 'coolant-temperature'
            ? 'cylinder head temperature'
            : `${QUANTITIES[quantity].title}${quantity === 'exhaust-gas-temperature' ? ' (no unit)' : ''}`,
      values = believed(signals, quantity),
      [least, greatest] = values ? extremes(values) : [NaN, NaN];
    return least <= greatest
      ? [[title, `${formatNumber(least, UNITS[unit])} to ${formatNumber(greatest, UNITS[unit])} ${UNITS[unit].symbol}`]]
      : [];
  });
  const taken = trimsTaken(signals),
    unjudged = unjudgedFuel(signals);
  return {
    pulls: pulls.length,
    judged: unjudged === undefined ? pulls.filter((pull) => showsMixture(signals, pull)).length : 0,
    ...(unjudged === undefined ? {} : { unjudged }),
    ...(signals.targetLambda ? { target: signals.targetLambda.from } : {}),
    notLogged: RESTED_ON.filter((quantity) => !logs(quantity)).map((quantity) => QUANTITIES[quantity].title),
    notJudged,
    ...unreadOf(signals),
    ...(taken === undefined ? {} : { taken }),
  };
}

export const ASSUMED_WORDS = `λ ${ASSUMED_TARGET_BOOST.toFixed(2)} under boost and λ ${ASSUMED_TARGET_LOAD.toFixed(2)} else, assumed`;

/** What sessions were judged by and what not, a line each. */
export function scopeLines(scopes: readonly Scope[]): string[] {
  if (scopes.length === 0) return [];
  const sum = (of: (scope: Scope) => number): number => scopes.reduce((total, scope) => total + of(scope), 0);
  const pulls = sum((scope) => scope.pulls),
    judged = sum((scope) => scope.judged),
    aimed = sum((scope) => (scope.target ? scope.judged : 0));
  const otherwise = scopes.find(({ unjudged }) => unjudged !== undefined)?.unjudged;
  const counted = (count: number): string => `${count} pull${count === 1 ? '' : 's'}`;
  const full =
    pulls === 0
      ? ['no pull in any session, so nothing is known of it']
      : [
          aimed > 0 ? `${counted(aimed)} held against their target` : '',
          judged > aimed ? `${counted(judged - aimed)} held against ${ASSUMED_WORDS}: no target is logged or named in vehicle.json` : '',
          pulls > judged
            ? `${counted(pulls - judged)} not judged: ${otherwise === undefined ? 'no mixture that can be believed' : `${otherwise} is burnt far from λ 1, and no target is known`}`
            : '',
        ].filter(Boolean);
  const notLogged = scopes[0].notLogged.filter((title) => scopes.every((scope) => scope.notLogged.includes(title)));
  const notJudged = [...new Set(scopes.flatMap((scope) => scope.notJudged.map(([title]) => title)))];
  const not = [
    notLogged.length > 0 ? `Not logged: ${notLogged.join(', ')}.` : '',
    notJudged.length > 0 ? `Logged, not judged: ${notJudged.join(', ')}.` : '',
  ].filter(Boolean);
  const all = <T>(of: (scope: Scope) => readonly T[]): T[] => [...new Set(scopes.flatMap(of))];
  const unread = unreadWords({ unread: all((scope) => scope.unread), doubts: scopes.flatMap(({ doubts }) => doubts) });
  return [
    `Full load: ${full.join('; ')}.`,
    ...(not.length > 0 ? [not.join(' ')] : []),
    ...(unread === undefined ? [] : [`${unread[0].toUpperCase()}${unread.slice(1)}.`]),
    ...all(({ taken }) => (taken === undefined ? [] : [taken])).map((words) => `Taken for granted: ${words}.`),
  ];
}
