// The line to the extension: messages checked on arrival, and of each kind of question one under way at a time, the newest waiting.

import { isToTraceView, type FromTraceView, type ToTraceView } from '../../server/src/protocol/traceMessages.js';

interface EditorApi { postMessage(message: unknown): void; getState(): unknown; setState(state: unknown): void }
declare function acquireVsCodeApi(): EditorApi;

type Question = Extract<FromTraceView, { readonly ask: number }>;
type Answer = Extract<ToTraceView, { readonly ask: number }>;
type Without<Q> = Q extends unknown ? Omit<Q, 'ask'> : never;

export class Host {
  private readonly api = acquireVsCodeApi();
  private asked = 0;
  private readonly underWay = new Map<string, { ask: number; done: (answer: Answer) => void }>();
  private readonly waiting = new Map<string, { question: Without<Question>; done: (answer: Answer) => void }>();

  constructor(hear: (message: Exclude<ToTraceView, Answer>) => void) {
    window.addEventListener('message', ({ data }: MessageEvent<unknown>) => {
      if (!isToTraceView(data)) return;
      if ('ask' in data) this.answered(data); else hear(data);
    });
  }

  get state(): unknown { return this.api.getState(); }
  set state(state: unknown) { this.api.setState(state); }

  send(message: Exclude<FromTraceView, Question>): void {
    this.api.postMessage(message);
  }

  /** `done` hears the answer unless a newer question of the same kind (`line`) has been asked meanwhile. */
  ask(line: string, question: Without<Question>, done: (answer: Answer) => void): void {
    if (this.underWay.has(line)) {
      this.waiting.set(line, { question, done });
      return;
    }
    const ask = ++this.asked;
    this.underWay.set(line, { ask, done });
    this.api.postMessage({ ...question, ask });
  }

  private answered(answer: Answer): void {
    for (const [line, { ask, done }] of this.underWay) {
      if (ask !== answer.ask) continue;
      this.underWay.delete(line);
      const next = this.waiting.get(line);
      this.waiting.delete(line);
      done(answer);
      if (next) this.ask(line, next.question, next.done);
      return;
    }
  }
}
