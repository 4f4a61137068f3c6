// The program of a thread that works on sessions: takes a task, tells what was found and then, where asked, what is shown and what was
// weighed; or tells what many sessions' evidence comes to. A task that comes meanwhile is one that somebody waits for: it goes first, on
// this thread, which knows the work, and what was begun goes on behind it. While another thread is at what somebody waits for, files rest.

import { parentPort, receiveMessageOnPort, workerData } from 'node:worker_threads';
import { followSession, type SessionFollower } from '../formats/session/followSession.js';
import { bytesSource, SourceError, WENT_AWAY, type ByteSource } from '../formats/source.js';
import { atOnce } from '../fueling/pieces.js';
import { tallying } from '../fueling/solution/tally.js';
import { readToAsk, workOnSession, type Answers } from '../service/sessionWork.js';
import { warmUp } from '../service/warmUp.js';
import { fileSource } from './fileSource.js';
import { pathOf } from './fileUri.js';
import { withSharedColumns } from './sharedColumns.js';
import type { ThreadAnswer, ThreadMessage, ThreadTask } from './threadMessages.js';

/** `isText`: an open editor's. */
interface AtHand {
  readonly id: number;
  readonly isText: boolean;
  readonly cells: number;
  readonly answer: Answers;
}
/**
 * Sessions at hand for questions, those that are open and others, by their files, the one worked on last at the end; and the tasks that
 * they were.
 */
const open = new Map<string, AtHand>();
/**
 * The last one is at hand whatever it weighs, others while they are few and all have no more cells than this (about 200 MB with what is
 * derived from them).
 */
const MOST_OPEN = 8,
  MOST_CELLS = 8e6;

/** Logs that grow, the one worked on last at the end: what was read of them is not read again. */
const followers = new Map<string, SessionFollower>();
const MOST_FOLLOWED = 2;

function followerOf(uri: string): SessionFollower {
  const follower = followers.get(uri) ?? followSession();
  followers.delete(uri);
  followers.set(uri, follower);
  if (followers.size > MOST_FOLLOWED) followers.delete([...followers.keys()][0]);
  return follower;
}

/** How many open texts are worked on, by all threads. */
const awaited = workerData as Int32Array;
/** While they are, a file's work looks this often whether something came for its own thread, ms. */
const LOOKS_MS = 5;

function work(given: ThreadMessage): void {
  if (given === 'warm up') {
    warmUp(restThenWorkFirst);
    return parentPort!.postMessage('warm');
  }
  const tell = (answer: ThreadAnswer['answer']): void => {
    parentPort!.postMessage({ id: given.id, answer } satisfies ThreadAnswer);
  };
  try {
    if ('question' in given) {
      const about = [...open.values()].find(({ id }) => id === given.of);
      if (!about) throw new Error('other sessions are at hand');
      tell({ said: about.answer(given.question) });
    } else if ('tallies' in given) tell({ tally: atOnce(tallying(given.tallies), restThenWorkFirst) });
    else workOn(given, tell);
    tell('ended');
  } catch (error) {
    tell(failed(error as Error));
  }
}

function workOn({ id, task, bytes, grows, asks, keeps }: ThreadTask, tell: (answer: ThreadAnswer['answer']) => void): void {
  const sources = { own: bytes ? bytesSource(bytes) : sourceAt(task.uri), ...(task.joins ? { joined: sourceAt(task.joins.uri) } : {}) };
  let isAwaited = bytes !== undefined || asks !== undefined;
  const told = (): void => {
    if (isAwaited) awaitedHere--;
    isAwaited = false;
  };
  if (isAwaited) awaitedHere++;
  try {
    const between = (): void => {
        if (isAwaited) workFirst();
        else restThenWorkFirst();
      },
      follower = grows && followerOf(task.uri);
    if (asks) {
      const { cells, answer } = readToAsk(sources, task, between, follower);
      if (keeps) keepAtHand(task.uri, { id, isText: bytes !== undefined, cells, answer });
      return tell({ said: answer(asks) });
    }
    const { found, show, answer, weigh } = workOnSession(
      sources,
      task,
      between,
      task.shows &&
        ((first) => {
          tell({ first });
        }),
      follower,
    );
    if (answer && found)
      keepAtHand(task.uri, { id, isText: bytes !== undefined, answer, cells: found.session.samples * found.session.channels });
    tell({ ...(found ? { found } : {}), shows: show !== undefined, weighs: weigh !== undefined });
    if (show) tell({ views: show() });
    told();
    if (weigh) tell({ evidence: withSharedColumns(weigh()) });
  } finally {
    told();
  }
}

function sourceAt(uri: string): ByteSource {
  const path = pathOf(uri),
    source = path === undefined ? undefined : fileSource(path);
  if (!source) throw new SourceError(WENT_AWAY, path ?? uri);
  return source;
}

/** Makes room: files go first, then texts that are open. */
function keepAtHand(uri: string, one: AtHand): void {
  open.delete(uri);
  const others = [...open].sort(([, a], [, b]) => Number(a.isText) - Number(b.isText));
  open.set(uri, one);
  let cells = [...open.values()].reduce((sum, each) => sum + each.cells, 0);
  for (const [other, each] of others) {
    if (open.size <= MOST_OPEN && cells <= MOST_CELLS) return;
    open.delete(other);
    cells -= each.cells;
  }
}

/** Of the texts in `awaited`, those that this very thread has at hand: it must not rest for what lies below on its own stack. */
let awaitedHere = 0;

function workFirst(): boolean {
  const waiting = receiveMessageOnPort(parentPort!) as { readonly message: ThreadMessage } | undefined;
  if (waiting) work(waiting.message);
  return waiting !== undefined;
}

function restThenWorkFirst(): void {
  for (let all = 0; workFirst() || (all = Atomics.load(awaited, 0)) > awaitedHere;) Atomics.wait(awaited, 0, all, LOOKS_MS);
}

function failed({ message, code, path }: Error & { code?: string; path?: string }): ThreadAnswer['answer'] {
  return { failed: { message, ...(code === undefined ? {} : { code }), ...(path === undefined ? {} : { path }) } };
}

export function serveThread(): void {
  parentPort!.on('message', work);
}
