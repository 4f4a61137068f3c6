// What a session that was read comes to: its findings, what it is, and its evidence on a table.

import { sessionFindings } from '../findings/check.js';
import type { Finding } from '../findings/finding.js';
import type { Session } from '../formats/session/session.js';
import type { Table } from '../formats/table/table.js';
import { TABLE_ASSUMED } from '../fueling/doubts/tableAssumed.js';
import { weighSession, type SessionEvidence } from '../fueling/weigh.js';
import type { Signals } from '../signals/signals.js';
import { missingNoted } from './missingFiles.js';
import { scopeOf, type Scope } from './scope.js';

/** What a session is, in four numbers. */
export interface SessionSummary {
  readonly samples: number;
  readonly durationS: number;
  readonly channels: number;
  readonly pulls: number;
}

/** What is found in a session. `unheard`: as it is while the table that the session's note names (`said`) is not there. */
export interface SessionFound {
  readonly findings: readonly Finding[];
  readonly session: SessionSummary;
  readonly scope: Scope;
  readonly unheard?: { readonly said: string; readonly findings: readonly Finding[] };
}

/** Every finding of a session, and what it is. */
export function foundIn(signals: Signals, between?: () => void): SessionFound {
  const said = signals.session.notes.find((note) => note.key === 'logged-with')?.value;
  return {
    findings: sessionFindings(signals, between),
    session: summaryOf(signals),
    scope: scopeOf(signals),
    ...(said === undefined ? {} : { unheard: { said, findings: sessionFindings(withMissing(signals, said), between) } }),
  };
}

/** A session's evidence on a table. */
export function weighFor(
  signals: Signals,
  uri: string,
  table: Table,
  loggedWith: { readonly name: string; readonly table: Table } | undefined,
  isAssumed: boolean,
  between?: () => void,
): SessionEvidence {
  const evidence = weighSession(signals, table, { session: uri, ...(loggedWith ? { loggedWith } : {}), ...(between ? { between } : {}) });
  const { joined } = signals.session;
  const more = [...(isAssumed ? [TABLE_ASSUMED] : []), ...(joined ? [joinedWords(joined)] : [])];
  return more.length > 0 ? { ...evidence, weight: { ...evidence.weight, assumed: [...evidence.weight.assumed, ...more] } } : evidence;
}

const joinedWords = (joined: NonNullable<Session['joined']>): string =>
  'how' in joined ? `${joined.path} is of the same drive, joined ${joined.how}` : `${joined.path} could not be joined: ${joined.refused}`;

const withMissing = (signals: Signals, path: string): Signals => ({
  ...signals,
  session: { ...signals.session, problems: [...signals.session.problems, missingNoted(signals.session, path)] },
});

/** What each pull shows costs more than to find them, and is asked for elsewhere. */
function summaryOf({ session, timeS, events }: Signals): SessionSummary {
  const durationS = session.samples > 1 ? timeS[session.samples - 1]! - timeS[0]! : 0;
  return {
    samples: session.samples,
    durationS: Math.round(durationS * 1000) / 1000,
    channels: session.channels.length,
    pulls: events.filter(({ kind }) => kind === 'pull').length,
  };
}
