// The program of a thread that works on sessions: takes a task, answers with all that was found.

import { parentPort } from 'node:worker_threads';
import { bytesSource, SourceError, WENT_AWAY } from '../formats/source.js';
import { workOnSession } from '../service/sessionWork.js';
import { pathOf } from './diskWorkspace.js';
import { fileSource } from './fileSource.js';
import type { ThreadAnswer, ThreadTask } from './sessionThreads.js';

function answerTo({ task, bytes }: ThreadTask): ThreadAnswer {
  try {
    const path = pathOf(task.uri);
    const source = bytes ? bytesSource(bytes) : path === undefined ? undefined : fileSource(path);
    return source ? { work: workOnSession(source, task) } : failed(new SourceError(WENT_AWAY, path ?? task.uri));
  } catch (error) {
    return failed(error as Error);
  }
}

function failed({ message, code, path }: Error & { code?: string; path?: string }): ThreadAnswer {
  return { failed: { message, ...(code === undefined ? {} : { code }), ...(path === undefined ? {} : { path }) } };
}

parentPort!.on('message', (task: ThreadTask) => { parentPort!.postMessage(answerTo(task)); });
