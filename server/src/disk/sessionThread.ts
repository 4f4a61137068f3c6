// The program of a thread that works on sessions: takes a task, tells what was found and then, where asked, what is shown and what was weighed. A task that comes meanwhile is one
// that somebody waits for: it goes first, on this thread, which knows the work, and what was begun goes on behind it.

import { parentPort, receiveMessageOnPort } from 'node:worker_threads';
import { bytesSource, SourceError, WENT_AWAY } from '../formats/source.js';
import type { SessionAnswer, SessionQuestion } from '../service/sessionQuestion.js';
import { workOnSession } from '../service/sessionWork.js';
import { pathOf } from './diskWorkspace.js';
import { fileSource } from './fileSource.js';
import type { ThreadAnswer, ThreadQuestion, ThreadTask } from './sessionThreads.js';

/** The open session that was worked on last, for questions about it, and the task that it was. */
let open: { readonly id: number; readonly answer: (question: SessionQuestion) => SessionAnswer } | undefined;

function work(given: ThreadTask | ThreadQuestion): void {
  const tell = (answer: ThreadAnswer['answer']): void => { parentPort!.postMessage({ id: given.id, answer } satisfies ThreadAnswer); };
  try {
    if ('question' in given) {
      if (open?.id !== given.of) throw new Error('another session is at hand');
      tell({ said: open.answer(given.question) });
    } else workOn(given, tell);
    tell('ended');
  } catch (error) {
    tell(failed(error as Error));
  }
}

function workOn({ id, task, bytes }: ThreadTask, tell: (answer: ThreadAnswer['answer']) => void): void {
  const path = pathOf(task.uri);
  const source = bytes ? bytesSource(bytes) : path === undefined ? undefined : fileSource(path);
  if (!source) throw new SourceError(WENT_AWAY, path ?? task.uri);
  const { found, show, answer, weigh } = workOnSession(source, task, workFirst);
  if (answer) open = { id, answer };
  tell({ found, shows: show !== undefined, weighs: weigh !== undefined });
  if (show) tell({ views: show() });
  if (weigh) tell({ evidence: weigh() });
}

function workFirst(): void {
  const waiting = receiveMessageOnPort(parentPort!) as { readonly message: ThreadTask | ThreadQuestion } | undefined;
  if (waiting) work(waiting.message);
}

function failed({ message, code, path }: Error & { code?: string; path?: string }): ThreadAnswer['answer'] {
  return { failed: { message, ...(code === undefined ? {} : { code }), ...(path === undefined ? {} : { path }) } };
}

parentPort!.on('message', work);
