// Sessions worked on by other threads: a few of them, each busy with one session at a time, so that this thread stays free to answer.

import { statSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { Worker } from 'node:worker_threads';
import type { Tally, Witness } from '../fueling/solution/tally.js';
import type { SessionEvidence } from '../fueling/weigh.js';
import type { About, AskSession, Said, SessionQuestion } from '../service/sessionQuestion.js';
import type { SessionViews } from '../service/views/sessionViews.js';
import type { SessionTask, SessionWork, TellFirst } from '../service/sessionWork.js';
import { pathOf } from './fileUri.js';
import { later } from './later.js';
import { sharedWitness } from './sharedColumns.js';
import { isMoreAwaited, type ThreadAnswer, type ThreadMessage, type ThreadTask } from './threadMessages.js';

export interface SessionThreads {
  readonly count: number;
  /**
   * Does the task over the file on disk, or over `bytes` where they are given, `grows` where only more came behind what it was before:
   * those of an open editor, which go first and wait for no file; an earlier state of the same file that still waits is rejected. Of one
   * that `shows`, `first` is told what the reader noticed.
   */
  work(task: SessionTask, bytes?: Uint8Array, first?: TellFirst, grows?: boolean): Promise<SessionWork>;
  /**
   * Reads a session, of the file on disk or of `bytes`, and answers a question about it, before what waits; `keeps`: it stays at hand for
   * more. Of an open text an earlier question that still waits is rejected.
   */
  ask<A extends About>(
    task: SessionTask,
    question: SessionQuestion<A>,
    keeps: boolean,
    bytes?: Uint8Array,
    grows?: boolean,
  ): Promise<{ readonly said: Said<A>; readonly ask: AskSession }>;
  /** Tells what sessions' evidence comes to, as a file's work is done. */
  tally(list: readonly Witness[]): Promise<Tally>;
  /**
   * From now on one thread more than `count` may be busy, with what is open, and one stands ready, its program loaded and warm, whatever
   * was let go.
   */
  keepReady(): void;
  /** Ends all work at hand and all that waits: each is rejected. New work may follow. */
  cancel(): void;
  /** As `cancel`, and no thread is left. */
  dispose(): void;
}

/** `reject` ends whatever of the work is still to come. */
interface Job {
  readonly id: number;
  readonly message: Exclude<ThreadMessage, 'warm up'>;
  readonly tell: (answer: ThreadAnswer['answer'], by: Worker) => void;
  readonly reject: (error: Error) => void;
}
/** An open text's. */
const bytesOf = ({ message }: Job): Uint8Array | undefined => ('bytes' in message ? message.bytes : undefined);
/** Somebody waits for it: an open text's, or one that is asked for. */
const goesFirst = (job: Job): boolean => 'task' in job.message && (bytesOf(job) !== undefined || job.message.asks !== undefined);

/** A thread that has had nothing to do for so long is let go with what it holds in memory, ms. */
const IDLE_MS = 10_000;
/** The same for one that still has an open session, about which something may be asked, or a log that grows. */
const IDLE_OPEN_MS = 600_000;

/** Files whose sizes are remembered. */
const MOST_SIZES = 10_000;

/** Bundled, the thread's program is this very file, which sees where it runs and begins with sessionThread.ts. */
const PROGRAM = import.meta.url;

/** More threads than this wait for the disk and hold too many sessions in memory at once. */
const MOST_THREADS = 4;

/** How many threads files are read by, where so many processors are left to others. */
export const threadsBeside = (left = 0): number => Math.max(1, Math.min(MOST_THREADS, availableParallelism() - left));

export function sessionThreads(count = threadsBeside(), program = new URL(PROGRAM)): SessionThreads {
  const waiting: Job[] = [];
  /** Without a timer: one that has not worked yet. */
  const idle = new Map<Worker, ReturnType<typeof setTimeout> | undefined>();
  /** What each thread has at hand: a file's session, one of an open text, or both. */
  const busy = new Map<Worker, Job[]>();
  /** Files whose open texts each thread has worked on. */
  const open = new WeakMap<Worker, Set<string>>();
  /** Bytes that each file had when it was worked on last, and the thread that reads on in those that grow. */
  const sizes = new Map<string, number>(),
    followedBy = new Map<string, Worker>();
  const hasGrown = (uri: string): boolean => {
    const path = pathOf(uri),
      size = (path === undefined ? undefined : statSync(path, { throwIfNoEntry: false })?.size) ?? 0,
      before = sizes.get(uri);
    sizes.delete(uri);
    if (size > 0) sizes.set(uri, size);
    if (sizes.size > MOST_SIZES) sizes.delete([...sizes.keys()][0]);
    return before !== undefined && size > before;
  };
  const stateOf = (
    { uri }: SessionTask,
    bytes: Uint8Array | undefined,
    grows = bytes === undefined && hasGrown(uri),
  ): Pick<ThreadTask, 'bytes' | 'grows'> => ({ ...(bytes ? { bytes } : {}), ...(grows ? { grows } : {}) });
  const forget = (worker: Worker): void => {
    for (const [uri, follower] of followedBy) if (follower === worker) followedBy.delete(uri);
  };
  const keepsSession = (worker: Worker): boolean => open.has(worker) || [...followedBy.values()].includes(worker);
  /** How many open texts are worked on: while there are any, other work rests. */
  const awaited = new Int32Array(new SharedArrayBuffer(4));
  const awaitedJobs = new Set<Job>();
  let tasks = 0;
  let keepsReady = false;
  /** Stands ready for what is open: files have threads of their own. */
  let ready: Worker | undefined;
  /** Is still loading and warming up: files would be in its way, and begin behind it. */
  let warming: Worker | undefined;

  const makeReady = (): void => {
    // Nor is it in the way of what somebody waits for.
    if (!keepsReady || idle.size > 0 || busy.size > count || awaitedJobs.size > 0) return;
    warming = ready = start();
    ready.postMessage('warm up' satisfies ThreadMessage);
    idle.set(ready, undefined);
    ready.unref();
  };

  const isAwaited = (job: Job, is: boolean): void => {
    if (is) awaitedJobs.add(job);
    else awaitedJobs.delete(job);
    Atomics.store(awaited, 0, awaitedJobs.size);
    Atomics.notify(awaited, 0);
  };

  const start = (): Worker => {
    const worker = new Worker(program, { workerData: awaited });
    const hasWarmed = (): void => {
      if (worker !== warming) return;
      warming = undefined;
      next();
    };
    worker.on('exit', () => {
      forget(worker);
      hasWarmed();
    });
    worker.on('message', (told: ThreadAnswer | 'warm') => {
      if (told === 'warm') return hasWarmed();
      const { id, answer } = told;
      const jobs = busy.get(worker) ?? [],
        job = jobs.find((each) => each.id === id);
      job?.tell(answer, worker);
      if (job && awaitedJobs.has(job) && !isMoreAwaited(answer)) {
        isAwaited(job, false);
        next();
      }
      if (answer !== 'ended' && !('failed' in answer)) return;
      const rest = jobs.filter((each) => each !== job);
      if (rest.length > 0) {
        busy.set(worker, rest);
        return next();
      }
      busy.delete(worker);
      idle.set(
        worker,
        setTimeout(
          () => {
            idle.delete(worker);
            void worker.terminate();
            makeReady();
          },
          keepsSession(worker) ? IDLE_OPEN_MS : IDLE_MS,
        ).unref(),
      );
      worker.unref();
      next();
    });
    worker.on('error', (error: Error) => {
      idle.delete(worker);
      if (worker === ready) ready = undefined;
      const jobs = busy.get(worker) ?? [];
      busy.delete(worker);
      if (worker === warming) {
        warming = undefined;
        // With nothing to do it failed: so would the next.
        keepsReady &&= jobs.length > 0;
      }
      for (const job of jobs) {
        isAwaited(job, false);
        job.reject(error);
      }
      next();
    });
    return worker;
  };

  const followerOf = ({ message }: Job): Worker | undefined =>
    'task' in message && message.grows ? followedBy.get(message.task.uri) : undefined;

  /** The thread for a job: one that has nothing to do, else a new one, else, for what is open, one that sets its work aside for it. */
  const threadFor = (job: Job): Worker | undefined => {
    const uri = goesFirst(job) ? (job.message as ThreadTask).task.uri : undefined;
    const filesAtWork = [...busy.values()].filter((jobs) => jobs.some((each) => !('question' in each.message) && !goesFirst(each))).length;
    // A file would only rest, and its thread would begin beside what somebody waits for.
    if (uri === undefined && (filesAtWork >= count || awaitedJobs.size > 0 || warming)) return undefined;
    // An earlier state of the text makes room for this one; what is open, or grows, keeps to the thread that has done so before.
    const free = [...idle.keys()].filter((each) => uri !== undefined || each !== ready);
    const found =
      free.find((each) => each === followerOf(job)) ??
      free.find((each) => uri !== undefined && open.get(each)?.has(uri)) ??
      free.find((each) => open.has(each) === (uri !== undefined)) ??
      free.find((each) => each === ready) ??
      free[0];
    if (found) return found;
    if (busy.size < (keepsReady ? count + 1 : count)) return start();
    return uri === undefined ? undefined : [...busy].find(([, jobs]) => !jobs.some((each) => awaitedJobs.has(each)))?.[0];
  };

  const next = (): void => {
    for (let worker: Worker | undefined; waiting.length > 0 && (worker = threadFor(waiting[0]));) {
      give(worker, waiting.shift()!);
    }
    makeReady();
  };

  const give = (worker: Worker, job: Job): void => {
    clearTimeout(idle.get(worker));
    idle.delete(worker);
    if (worker === ready) ready = undefined;
    busy.set(worker, [...(busy.get(worker) ?? []), job]);
    worker.ref();
    const bytes = bytesOf(job);
    if (goesFirst(job)) isAwaited(job, true);
    if ('task' in job.message && (bytes || job.message.keeps)) open.set(worker, (open.get(worker) ?? new Set()).add(job.message.task.uri));
    if ('task' in job.message && job.message.grows) followedBy.set(job.message.task.uri, worker);
    worker.postMessage(job.message, bytes?.buffer instanceof ArrayBuffer ? [bytes.buffer] : []);
  };

  /** Of the thread that did a task, if it is there still. */
  const asks =
    (worker: Worker, of: number): AskSession =>
    <A extends About>(about: A, asked: SessionQuestion<A>['asked']) =>
      new Promise<Said<A>>((resolve, reject) => {
        if (!idle.has(worker) && !busy.has(worker)) return reject(new Cancelled());
        const id = tasks++;
        give(worker, {
          id,
          message: { id, of, question: { about, asked } },
          reject,
          tell: (answer) => {
            if (answer === 'ended') return;
            if ('said' in answer) resolve(answer.said as Said<A>);
            else reject(new Cancelled());
          },
        });
      });

  const begin = (job: Job & { readonly message: ThreadTask }): void => {
    const { task, bytes } = job.message;
    // Of a text that is being typed in only the last state is wanted, by each who asks.
    const wanted = (of: ThreadTask): string => JSON.stringify([of.asks, of.task.weigh?.alone && of.task.weigh]);
    const before = bytes
      ? waiting.findIndex((each) => {
          const other = each.message as ThreadTask;
          return other.bytes && other.task.uri === task.uri && wanted(other) === wanted(job.message);
        })
      : -1;
    if (before >= 0) waiting.splice(before, 1)[0].reject(new Cancelled());
    if (goesFirst(job)) waiting.unshift(job);
    else waiting.push(job);
    next();
  };

  const cancel = (): void => {
    const jobs = [...[...busy.values()].flat(), ...waiting.splice(0)];
    for (const worker of busy.keys()) void worker.terminate();
    busy.clear();
    for (const job of jobs) {
      isAwaited(job, false);
      job.reject(new Cancelled());
    }
  };

  return {
    count,
    work: (task, bytes, first, grows) =>
      new Promise((resolve, reject) => {
        const [views, evidence] = [later<SessionViews>(), later<SessionEvidence>()];
        const id = tasks++;
        const job: Job & { readonly message: ThreadTask } = {
          id,
          message: { id, task, ...stateOf(task, bytes, grows) },
          tell: (answer, by) => {
            if (answer === 'ended') return;
            if ('first' in answer) first?.(answer.first);
            else if ('shows' in answer)
              resolve({
                ...(answer.found ? { found: answer.found } : {}),
                ...(answer.shows ? { views: views.promise, ask: asks(by, id) } : {}),
                ...(answer.weighs ? { evidence: evidence.promise } : {}),
              });
            else if ('views' in answer) views.resolve(answer.views);
            else if ('evidence' in answer) evidence.resolve(answer.evidence);
            // As it was thrown there: by its code the command line tells whose fault it is.
            else if ('failed' in answer) job.reject(Object.assign(new Error(answer.failed.message), answer.failed));
          },
          reject: (error) => {
            for (const each of [{ reject }, views, evidence]) each.reject(error);
          },
        };
        begin(job);
      }),
    ask: <A extends About>(task: SessionTask, question: SessionQuestion<A>, keeps: boolean, bytes?: Uint8Array, grows?: boolean) =>
      new Promise<{ said: Said<A>; ask: AskSession }>((resolve, reject) => {
        const id = tasks++;
        begin({
          id,
          message: { id, task, asks: question, keeps, ...stateOf(task, bytes, grows) },
          reject,
          tell: (answer, by) => {
            if (answer === 'ended') return;
            if ('said' in answer) resolve({ said: answer.said as Said<A>, ask: asks(by, id) });
            else if ('failed' in answer) reject(Object.assign(new Error(answer.failed.message), answer.failed));
          },
        });
      }),
    tally: (list) =>
      new Promise((resolve, reject) => {
        waiting.push({
          id: tasks,
          message: { id: tasks++, tallies: list.map(sharedWitness) },
          reject,
          tell: (answer) => {
            if (answer === 'ended') return;
            if ('tally' in answer) resolve(answer.tally);
            else if ('failed' in answer) reject(Object.assign(new Error(answer.failed.message), answer.failed));
          },
        });
        next();
      }),
    keepReady() {
      keepsReady = true;
      makeReady();
    },
    cancel,
    dispose() {
      keepsReady = false;
      cancel();
      for (const [worker, timer] of idle) {
        clearTimeout(timer);
        void worker.terminate();
      }
      idle.clear();
    },
  };
}

/** One thread stands ready from now on. The editor, and what is open in it, is not to wait for the folder. */
export function threadsOfServer(): SessionThreads {
  const threads = sessionThreads(threadsBeside(1));
  threads.keepReady();
  return threads;
}

/** Work that was ended because nobody wants it any more. */
export class Cancelled extends Error {
  constructor() {
    super('cancelled');
  }
}
