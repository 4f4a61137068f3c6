// Which columns of a log were not looked at, which doubt that throws, and both in words: one text for the command line and the report.

import { unreadHeaders } from '../formats/session.js';
import type { Signals } from '../signals/signals.js';
import { likeTrims } from '../signals/untoldTrims.js';
import type { SessionDoubt } from './evidence.js';

/** Headers that are not recognised, and why less may be concluded than the readings say. */
export interface Unread { readonly unread: readonly string[]; readonly doubts: readonly SessionDoubt[] }

export const unreadOf = ({ session }: Signals): Unread => {
  const trims = likeTrims(session).map(({ header }) => header);
  return { unread: unreadHeaders(session), doubts: trims.length > 0 ? [{ kind: 'trim-unread', channels: trims }] : [] };
};

const MOST_NAMES = 20;
const named = (names: readonly string[]): string => names.slice(0, MOST_NAMES).map((name) => name.slice(0, 60)).join(', ') + (names.length > MOST_NAMES ? ` and ${names.length - MOST_NAMES} more` : '');

/** `not recognised, so not looked at: Grade (%), Korrektur (%)`, and what follows where one looks like a fuel trim; undefined where all are. */
export const unreadWords = ({ unread = [], doubts = [] }: Partial<Unread>): string | undefined => {
  if (unread.length === 0) return undefined;
  const trims = doubts.flatMap(({ kind, channels }) => (kind === 'trim-unread' ? channels : []));
  return `not recognised, so not looked at: ${named(unread)}${trims.length === 0 ? ''
    : `; ${trims.length < unread.length ? named(trims) : trims.length === 1 ? 'it' : 'they'} ${trims.length === 1 ? 'looks like a fuel trim' : 'look like fuel trims'}, so no fuel is taken out by this log until "channels" in vehicle.json says what ${trims.length === 1 ? 'it is' : 'they are'}`}`;
};
