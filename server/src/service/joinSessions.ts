// Two loggers' files of one drive as the text of one session, with notes that say how it was made.

import { joinedText, type JoinedText } from '../formats/session/joinedText.js';
import type { Session } from '../formats/session/session.js';
import { formatNumber } from '../quantities/format.js';
import { matchWords, spanOf } from '../signals/clocks/joinInMemory.js';
import { matchClocks, type ClockMatch, type NoMatch } from '../signals/clocks/matchClocks.js';

export interface NamedSession {
  readonly session: Session;
  readonly name: string;
}

export interface JoinedSessions extends JoinedText {
  readonly match: ClockMatch;
  readonly words: string;
}

/** The first one's clock holds, and its channels stand where both have a quantity. */
export function joinSessions(first: NamedSession, second: NamedSession): JoinedSessions | NoMatch {
  const [a, b] = [first.session.metadata.get('logged-with'), second.session.metadata.get('logged-with')];
  if (a !== undefined && b !== undefined && a !== b)
    return { refused: `they say that they were logged with different tables (${a}, ${b})` };
  const match = matchClocks(first.session, second.session);
  if ('refused' in match) return match;
  const { offsetS, drift } = match;
  const words = matchWords(match);
  const begun = first.session.time.startIso;
  const joined = joinedText({ ...first, timeAt: (ownS) => ownS }, { ...second, timeAt: (ownS) => offsetS + (1 + drift) * ownS }, [
    `joined: ${first.name} and ${second.name}`,
    `joined how: ${words}`,
    `joined span: ${spanOf(second.session, match)
      .map((timeS) => formatNumber(timeS, 3))
      .join(' to ')} s`,
    ...(begun === undefined ? [] : [`first logger began: ${begun}`]),
  ]);
  return { ...joined, match, words };
}
