// Sessions worked on by other threads: a few of them, each busy with one session at a time, so that this thread stays free to answer.

import { availableParallelism } from 'node:os';
import { Worker } from 'node:worker_threads';
import type { SessionTask, SessionWork } from '../service/sessionWork.js';

export interface SessionThreads {
  readonly count: number;
  /** Does the task over the file on disk, or over `bytes` where they are given: those of an open editor, which go first; an earlier state of the same file that still waits is rejected. */
  work(task: SessionTask, bytes?: Uint8Array): Promise<SessionWork>;
  /** Ends all work at hand and all that waits: each is rejected. New work may follow. */
  cancel(): void;
  /** As `cancel`, and no thread is left. */
  dispose(): void;
}

/** What a thread is told and tells. */
export interface ThreadTask { readonly task: SessionTask; readonly bytes?: Uint8Array }
export type ThreadAnswer = { readonly work: SessionWork } | { readonly failed: { readonly message: string; readonly code?: string; readonly path?: string } };

interface Job extends ThreadTask { readonly resolve: (work: SessionWork) => void; readonly reject: (error: Error) => void }

/** A thread that has had nothing to do for so long is let go with what it holds in memory, ms. */
const IDLE_MS = 10_000;

/** Bundled, the thread's program is this very file, which sees where it runs and begins with sessionThread.ts. */
const PROGRAM = new URL(import.meta.url);

/** More threads than this wait for the disk and hold too many sessions in memory at once. */
const MOST_THREADS = 4;

export function sessionThreads(count = Math.min(MOST_THREADS, availableParallelism()), program: URL = PROGRAM): SessionThreads {
  const waiting: Job[] = [];
  const idle = new Map<Worker, ReturnType<typeof setTimeout>>();
  const busy = new Map<Worker, Job>();

  const start = (): Worker => {
    const worker = new Worker(program);
    const settle = (finish: (job: Job) => void): void => {
      const job = busy.get(worker);
      busy.delete(worker);
      if (job) finish(job);
    };
    worker.on('message', (answer: ThreadAnswer) => {
      settle((job) => {
        if ('work' in answer) job.resolve(answer.work);
        // As it was thrown there: by its code the command line tells whose fault it is.
        else job.reject(Object.assign(new Error(answer.failed.message), answer.failed));
      });
      idle.set(worker, setTimeout(() => { idle.delete(worker); void worker.terminate(); }, IDLE_MS).unref());
      worker.unref();
      next();
    });
    worker.on('error', (error: Error) => {
      settle((job) => job.reject(error));
      next();
    });
    return worker;
  };

  const next = (): void => {
    while (waiting.length > 0 && busy.size < count) {
      const job = waiting.shift()!;
      const [worker] = idle.keys();
      const free = worker ?? start();
      clearTimeout(idle.get(free));
      idle.delete(free);
      busy.set(free, job);
      free.ref();
      free.postMessage({ task: job.task, ...(job.bytes ? { bytes: job.bytes } : {}) } satisfies ThreadTask, job.bytes ? [job.bytes.buffer as ArrayBuffer] : []);
    }
  };

  const cancel = (): void => {
    const jobs = [...busy.values(), ...waiting.splice(0)];
    for (const worker of busy.keys()) void worker.terminate();
    busy.clear();
    for (const job of jobs) job.reject(new Cancelled());
  };

  return {
    count,
    work: (task, bytes) => new Promise((resolve, reject) => {
      const job: Job = { task, ...(bytes ? { bytes } : {}), resolve, reject };
      if (bytes) {
        // Of a text that is being typed in only the last state is wanted.
        const before = waiting.findIndex((each) => each.bytes && each.task.uri === task.uri);
        if (before >= 0) waiting.splice(before, 1)[0].reject(new Cancelled());
        waiting.unshift(job);
      } else waiting.push(job);
      next();
    }),
    cancel,
    dispose() {
      cancel();
      for (const [worker, timer] of idle) { clearTimeout(timer); void worker.terminate(); }
      idle.clear();
    },
  };
}

/** Work that was ended because nobody wants it any more. */
export class Cancelled extends Error {
  constructor() { super('cancelled'); }
}

