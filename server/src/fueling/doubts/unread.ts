// Which columns of a log were not looked at, which doubt that throws, and both in words: one text for the command line and the report.

import { unreadHeaders } from '../../formats/session/session.js';
import type { Signals } from '../../signals/signals.js';
import { gaugesApart } from '../../signals/mixture/gaugesApart.js';
import { deadAir } from '../../signals/faults/airNeverMoves.js';
import { pulsesOfRpm } from '../../signals/pulsesOfRpm.js';
import { likeTrims } from '../../signals/mixture/untoldTrims.js';
import type { SessionDoubt } from '../evidence.js';
import { loopApart } from './loopApart.js';
import { openLoopTrim } from './openLoopTrim.js';
import { trimsTurned } from './trimsTurned.js';

/** Headers that are not recognised, and why less may be concluded than the readings say. */
export interface Unread {
  readonly unread: readonly string[];
  readonly doubts: readonly SessionDoubt[];
}

export const unreadOf = (signals: Signals): Unread => {
  const trims = likeTrims(signals.session).map(({ header }) => header),
    gauges = gaugesApart(signals),
    loop = loopApart(signals),
    air = deadAir(signals),
    pulses = pulsesOfRpm(signals),
    turned = trimsTurned(signals),
    open = openLoopTrim(signals);
  return {
    unread: unreadHeaders(signals.session),
    doubts: [
      ...(trims.length > 0 ? [{ kind: 'trim-unread', channels: trims } as const] : []),
      ...(gauges ? [{ kind: 'gauges-apart', channels: [gauges.first.header, gauges.second.header] } as const] : []),
      ...(loop && loop.apart < 0 ? [{ kind: 'loop-apart', channels: [loop.channel.header] } as const] : []),
      ...(air ? [{ kind: 'air-dead', channels: [air.header] } as const] : []),
      ...(pulses ? [{ kind: 'speed-off', channels: [signals.channel('engine-speed')!.header] } as const] : []),
      ...(turned ? [{ kind: 'trims-turned', channels: [turned.channel.header] } as const] : []),
      ...(open ? [{ kind: 'open-loop-trim', channels: [open.header] } as const] : []),
    ],
  };
};

const MOST_NAMES = 20;
const inShort = (name: string): string => name.slice(0, 60);
const named = (names: readonly string[]): string =>
  names.slice(0, MOST_NAMES).map(inShort).join(', ') + (names.length > MOST_NAMES ? ` and ${names.length - MOST_NAMES} more` : '');

/**
 * `not recognised, so not looked at: Grade (%), Korrektur (%)`, and what follows where one looks like a fuel trim or two gauges differ;
 * undefined where nothing is to be said.
 */
export const unreadWords = ({ unread = [], doubts = [] }: Partial<Unread>): string | undefined => {
  const of = (wanted: SessionDoubt['kind']): (readonly string[])[] =>
    doubts.filter(({ kind }) => kind === wanted).map(({ channels }) => channels);
  const trims = [...new Set(of('trim-unread').flat())],
    gauges = [...new Set(of('gauges-apart').map((pair) => pair.map(inShort).join(' and ')))],
    loops = [...new Set(of('loop-apart').flat())],
    airs = [...new Set(of('air-dead').flat())],
    speeds = [...new Set(of('speed-off').flat())],
    turned = [...new Set(of('trims-turned').flat())],
    open = [...new Set(of('open-loop-trim').flat())];
  const words = [
    unread.length === 0 ? '' : `not recognised, so not looked at: ${named(unread)}`,
    trims.length === 0
      ? ''
      : `${trims.length < unread.length ? named(trims) : trims.length === 1 ? 'it' : 'they'} ${trims.length === 1 ? 'looks like a fuel trim' : 'look like fuel trims'}, so no fuel is taken out by a log with ${trims.length === 1 ? 'it' : 'them'} until "channels" in vehicle.json says what ${trims.length === 1 ? 'it is' : 'they are'}`,
    gauges.length === 0
      ? ''
      : `${gauges.slice(0, MOST_NAMES).join(', and ')} differ steadily, so no cell is corrected by a log with both until it is known which gauge is right`,
    loops.length === 0
      ? ''
      : `${named(loops)} reads rich while the computer's closed loop holds λ 1 by its own sensor, so no fuel is taken out by a log with it until it is known which of the two is right`,
    speeds.length === 0 ? '' : `${named(speeds)} shows twice the engine's speed or half of it, so no cell is corrected by a log with it`,
    turned.length === 0
      ? ''
      : `${named(turned)} moves against lambda, as with its sign turned round, so no cell is corrected by a log with it`,
    open.length === 0
      ? ''
      : `${named(open)} takes fuel away at full load in open loop, where many computers show it and do without it, so none is taken out by it there`,
    airs.length === 0 ? '' : `${named(airs)} stands where an open wire ends, so no cell is corrected by a log with it`,
  ].filter(Boolean);
  return words.length === 0 ? undefined : words.join('; ');
};
