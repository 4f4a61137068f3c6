// All that is to be found in one session, from plain data to plain data: so that another thread can do it while this one answers.

import { readingFindings } from '../findings/check.js';
import type { Finding } from '../findings/finding.js';
import type { SessionFollower } from '../formats/session/followSession.js';
import { readTable } from '../formats/table/readTable.js';
import type { ByteSource } from '../formats/source.js';
import type { Table } from '../formats/table/table.js';
import type { Vehicle } from '../formats/vehicle/vehicle.js';
import type { SessionEvidence } from '../fueling/weigh.js';
import { analyse } from '../signals/analyse.js';
import { joinInMemory } from '../signals/clocks/joinInMemory.js';
import type { Signals } from '../signals/signals.js';
import { readAnySession } from './fileKind.js';
import { foundIn, weighFor, type SessionFound } from './sessionFound.js';
import { answerOf, type About, type AskSession, type Said, type SessionQuestion } from './sessionQuestion.js';
import { viewsOf, type SessionViews } from './views/sessionViews.js';

/**
 * A table to weigh a session for. `loggedWith`: the table that was in the engine computer, where it is another; `isAssumed`: nothing says
 * which it was.
 */
export interface WeighTask {
  /** Nothing but the evidence is wanted: the session is not judged. */
  readonly alone?: true;
  readonly table: string;
  readonly loggedWith?: { readonly name: string; readonly table: string };
  readonly isAssumed: boolean;
}

const MOST_TABLES = 3;
let lastRead: readonly (readonly [text: string, table: Table])[] = [];

/** A table of a task: every session of a car has the same few, and what is kept by a table holds for them all. */
function tableIn(text: string): Table {
  const found = lastRead.find(([known]) => known === text) ?? ([text, readTable(text)] as const);
  lastRead = [found, ...lastRead.filter((each) => each !== found)].slice(0, MOST_TABLES);
  return found[1];
}

/** A session's file and all that it is read with, texts as they stand; survives a structured clone. */
export interface SessionTask {
  readonly uri: string;
  readonly vehicle: Vehicle;
  readonly targetTable?: string;
  /** The other logger's file of the same drive, and its path as the vehicle file has it. */
  readonly joins?: { readonly uri: string; readonly path: string };
  readonly weigh?: WeighTask;
  /** The views are wanted too: the text is open. */
  readonly shows?: true;
}

/**
 * What comes of a task: the findings unless the evidence alone is wanted, then the views where they are wanted, and the evidence where it
 * was asked for, which takes as long again.
 */
export interface SessionWork {
  readonly found?: SessionFound;
  readonly views?: Promise<SessionViews>;
  readonly ask?: AskSession;
  readonly evidence?: Promise<SessionEvidence>;
}

/** Told what the reader noticed, while the session is still judged. */
export type TellFirst = (findings: readonly Finding[]) => void;

/**
 * Works on sessions somewhere else than on this thread; undefined for one that is better done here. Rejects where the file cannot be read.
 */
export type Elsewhere = (
  task: SessionTask,
  open: () => Promise<ByteSource | undefined>,
  first?: TellFirst,
) => Promise<SessionWork> | undefined;

/**
 * Reads a session somewhere else and answers a question about it, nothing judged; undefined for one that is better read here. `keeps`: more
 * will be asked, of what is read for it now.
 */
export type AskElsewhere = <A extends About>(
  task: SessionTask,
  question: SessionQuestion<A>,
  open: () => Promise<ByteSource | undefined>,
  keeps: boolean,
) => Promise<{ readonly said: Said<A>; readonly ask: AskSession }> | undefined;

export type Answers = <A extends About>(question: SessionQuestion<A>) => Said<A>;

/** Where a task's files are read from: its own, and the one that it `joins`. */
export interface TaskSources {
  readonly own: ByteSource;
  readonly joined?: ByteSource;
}

/** Reads a session, to be asked about. */
export function readToAsk(
  sources: TaskSources,
  task: SessionTask,
  between?: () => void,
  follower?: SessionFollower,
): { readonly cells: number; readonly answer: Answers } {
  const signals = read(sources, task, false, between, follower);
  return { cells: signals.session.samples * signals.session.channels.length, answer: (question) => answerOf(signals, question) };
}

/**
 * Reads and judges a session; `show` makes its views, `answer` answers questions about it, and `weigh` weighs it, where that is asked for.
 * `between` is called between the pieces of the work: in it other work may be done. A log that grows has its `follower`.
 */
export function workOnSession(
  sources: TaskSources,
  task: SessionTask,
  between?: () => void,
  first?: TellFirst,
  follower?: SessionFollower,
): {
  readonly found?: SessionFound;
  readonly show?: () => SessionViews;
  readonly answer?: Answers;
  readonly weigh?: () => SessionEvidence;
} {
  const { uri, weigh, shows } = task,
    signals = read(sources, task, !shows, between, follower);
  if (!weigh?.alone) first?.(readingFindings(signals));
  const found = weigh?.alone
    ? {}
    : {
        found: foundIn(signals, between),
        ...(shows
          ? { show: () => viewsOf(signals, uri), answer: <A extends About>(question: SessionQuestion<A>) => answerOf(signals, question) }
          : {}),
      };
  if (!weigh) return found;
  const loggedWith = weigh.loggedWith && { name: weigh.loggedWith.name, table: tableIn(weigh.loggedWith.table) };
  return { ...found, weigh: () => weighFor(signals, uri, tableIn(weigh.table), loggedWith, weigh.isAssumed, between) };
}

function read(
  { own, joined }: TaskSources,
  { uri, vehicle, targetTable, joins }: SessionTask,
  knownAlone: boolean,
  between?: () => void,
  follower?: SessionFollower,
): Signals {
  const pieces = (of: ByteSource): ByteSource => ({
    size: of.size,
    read: (start, end) => {
      between?.();
      return of.read(start, end);
    },
  });
  const first = readAnySession(uri, pieces(own), { vehicle, knownAlone: knownAlone && !joins }, follower);
  return analyse(
    joins && joined ? joinInMemory(first, readAnySession(joins.uri, pieces(joined), { vehicle }), joins.path) : first,
    vehicle,
    { ...(targetTable === undefined ? {} : { targetTable: tableIn(targetTable) }), ...(between ? { between } : {}) },
  );
}
