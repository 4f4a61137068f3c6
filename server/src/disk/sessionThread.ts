// The program of a thread that works on sessions: takes a task, tells what was found and then, where asked, what was weighed.

import { parentPort } from 'node:worker_threads';
import { bytesSource, SourceError, WENT_AWAY } from '../formats/source.js';
import { workOnSession } from '../service/sessionWork.js';
import { pathOf } from './diskWorkspace.js';
import { fileSource } from './fileSource.js';
import type { ThreadAnswer, ThreadTask } from './sessionThreads.js';

function work({ task, bytes }: ThreadTask, tell: (answer: ThreadAnswer) => void): void {
  try {
    const path = pathOf(task.uri);
    const source = bytes ? bytesSource(bytes) : path === undefined ? undefined : fileSource(path);
    if (!source) throw new SourceError(WENT_AWAY, path ?? task.uri);
    const { found, weigh } = workOnSession(source, task);
    tell({ found, weighs: weigh !== undefined });
    if (weigh) tell({ evidence: weigh() });
  } catch (error) {
    tell(failed(error as Error));
  }
}

function failed({ message, code, path }: Error & { code?: string; path?: string }): ThreadAnswer {
  return { failed: { message, ...(code === undefined ? {} : { code }), ...(path === undefined ? {} : { path }) } };
}

parentPort!.on('message', (task: ThreadTask) => { work(task, (answer) => { parentPort!.postMessage(answer); }); });
