// How a request is answered: other messages first, nothing stale, nothing for nobody, and a failure is logged and costs one answer only.

import { LSPErrorCodes, ResponseError, type CancellationToken, type Connection } from 'vscode-languageserver';
import type { EditorWorkspace } from './editorWorkspace.js';

/** Lets waiting messages (an edit, a cancel) in before long work. */
export const breathe = (): Promise<void> =>
  new Promise((resolve) => {
    nextTurn(resolve);
  });

/** In a browser's worker a message to oneself comes behind those that wait; a timer there is held back by some milliseconds. */
const nextTurn: (then: () => void) => void = typeof setImmediate === 'function' ? setImmediate : throughPort();

interface Port {
  onmessage: () => void;
  postMessage(message: null): void;
}

function throughPort(): (then: () => void) => void {
  const { port1, port2 } = new (globalThis as unknown as { MessageChannel: new () => Record<'port1' | 'port2', Port> }).MessageChannel();
  let waiting: (() => void)[] = [];
  port1.onmessage = () => {
    const all = waiting;
    waiting = [];
    for (const then of all) then();
  };
  return (then) => {
    waiting.push(then);
    port2.postMessage(null);
  };
}

/** Turns of the event loop without a new request after which nobody is taken to be waiting: messages come in one a turn. */
const CALM_TURNS = 3;

/** Requests that somebody waits for. Background work lets them finish first, else each of their steps would wait behind a whole file. */
export interface Foreground {
  /** A request has come; the function returned tells that it was answered. */
  enter(): () => void;
  /** Other messages first, and whatever they ask for. */
  quiet(): Promise<void>;
  /** Other messages first, and answers that are at hand: not those that take turns, which may be waiting for whoever rests. */
  rest(): Promise<void>;
}

/** `isArriving`: a long message comes in many turns of the event loop, each of which work in pieces would make long. */
export function createForeground(isArriving = (): boolean => false): Foreground {
  let pending = 0;
  /** Counts requests as they come and as they are answered. */
  let moves = 0;
  let waiting: (() => void)[] = [];
  const answered = (): Promise<void> =>
    pending === 0
      ? Promise.resolve()
      : new Promise((resolve) => {
          waiting.push(resolve);
        });
  return {
    enter() {
      pending++;
      moves++;
      return () => {
        moves++;
        if (--pending > 0) return;
        const all = waiting;
        waiting = [];
        for (const each of all) each();
      };
    },
    async quiet() {
      for (let calm = 0; calm < CALM_TURNS; calm++) {
        await breathe();
        if (pending > 0 || isArriving()) calm = -1;
        await answered();
      }
    },
    async rest() {
      for (let calm = 0, before = moves; calm < CALM_TURNS; calm++, before = moves) {
        await breathe();
        if (moves !== before || isArriving()) calm = -1;
      }
    },
  };
}

export type Answerer = <P, R>(
  what: string,
  uriOf: (params: P) => string | undefined,
  answer: (params: P, token: CancellationToken) => Promise<R>,
  otherwise: R,
  stale?: (message: string) => Error,
) => (params: P, token: CancellationToken) => Promise<R>;

const contentModified = (message: string): Error => new ResponseError(LSPErrorCodes.ContentModified, message);

/**
 * Makes handlers. Cancelled requests are answered `RequestCancelled`; where the file was edited meanwhile, `ContentModified` (or what
 * `stale` makes);
 * where the work fails, the failure goes to the log and `otherwise` to the client.
 */
export function answerer(connection: Connection, workspace: EditorWorkspace, foreground: Foreground = createForeground()): Answerer {
  const answering: Answerer =
    (what, uriOf, answer, otherwise, stale = contentModified) =>
    async (params, token) => {
      const uri = uriOf(params);
      const version = uri === undefined ? undefined : workspace.document(uri)?.version;
      await breathe();
      if (token.isCancellationRequested) throw new ResponseError(LSPErrorCodes.RequestCancelled, `${what}: cancelled`);
      let result;
      try {
        result = await answer(params, token);
      } catch (error) {
        if (error instanceof ResponseError) throw error;
        // What was begun for an earlier text may have been given up for the newer one.
        if (uri !== undefined && workspace.document(uri)?.version !== version) throw stale(`${what}: the file was edited meanwhile`);
        connection.console.error(
          `${what} failed${uri === undefined ? '' : ` for ${uri}`}: ${error instanceof Error ? (error.stack ?? error.message) : String(error)}`,
        );
        return otherwise;
      }
      if (token.isCancellationRequested) throw new ResponseError(LSPErrorCodes.RequestCancelled, `${what}: cancelled`);
      if (uri !== undefined && workspace.document(uri)?.version !== version) throw stale(`${what}: the file was edited meanwhile`);
      return result;
    };
  return (...parts) => {
    const handler = answering(...parts);
    return async (params, token) => {
      const leave = foreground.enter();
      try {
        return await handler(params, token);
      } finally {
        leave();
      }
    };
  };
}
