// The program of a thread that works on sessions: takes a task, tells what was found and then, where asked, what is shown and what was weighed. A task that comes meanwhile is one
// that somebody waits for: it goes first, on this thread, which knows the work, and what was begun goes on behind it.

import { parentPort, receiveMessageOnPort } from 'node:worker_threads';
import { bytesSource, SourceError, WENT_AWAY } from '../formats/source.js';
import { workOnSession } from '../service/sessionWork.js';
import { pathOf } from './diskWorkspace.js';
import { fileSource } from './fileSource.js';
import type { ThreadAnswer, ThreadTask } from './sessionThreads.js';

function work({ id, task, bytes }: ThreadTask): void {
  const tell = (answer: ThreadAnswer['answer']): void => { parentPort!.postMessage({ id, answer } satisfies ThreadAnswer); };
  try {
    const path = pathOf(task.uri);
    const source = bytes ? bytesSource(bytes) : path === undefined ? undefined : fileSource(path);
    if (!source) throw new SourceError(WENT_AWAY, path ?? task.uri);
    const { found, show, weigh } = workOnSession(source, task, workFirst);
    tell({ found, shows: show !== undefined, weighs: weigh !== undefined });
    if (show) tell({ views: show() });
    if (weigh) tell({ evidence: weigh() });
    tell('ended');
  } catch (error) {
    tell(failed(error as Error));
  }
}

function workFirst(): void {
  const waiting = receiveMessageOnPort(parentPort!) as { readonly message: ThreadTask } | undefined;
  if (waiting) work(waiting.message);
}

function failed({ message, code, path }: Error & { code?: string; path?: string }): ThreadAnswer['answer'] {
  return { failed: { message, ...(code === undefined ? {} : { code }), ...(path === undefined ? {} : { path }) } };
}

parentPort!.on('message', work);
