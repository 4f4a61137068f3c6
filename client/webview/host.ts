// The line to the extension: messages checked on arrival, and of each kind of question one under way at a time, the newest waiting.

interface EditorApi {
  postMessage(message: unknown): void;
  getState(): unknown;
  setState(state: unknown): void;
}
declare function acquireVsCodeApi(): EditorApi;

interface Message {
  readonly type: string;
}
interface Asking {
  readonly ask: number;
}
type Without<Q> = Q extends unknown ? Omit<Q, 'ask'> : never;

/** `Out` is what the view sends, `In` what it hears; those with an `ask` are questions and their answers. */
export class Host<Out extends Message, In extends Message> {
  private readonly api = acquireVsCodeApi();
  private asked = 0;
  private sent = 0;
  private actedAt = 0;
  private readonly underWay = new Map<string, { ask: number; done: (answer: Extract<In, Asking>) => void }>();
  private readonly waiting = new Map<string, { question: Without<Extract<Out, Asking>>; done: (answer: Extract<In, Asking>) => void }>();

  constructor(isIn: (value: unknown) => value is In, hear: (message: Exclude<In, Asking>) => void) {
    window.addEventListener('message', ({ data }: MessageEvent<unknown>) => {
      if (!isIn(data)) return;
      if ('ask' in data) this.answered(data as Extract<In, Asking>);
      else hear(data as Exclude<In, Asking>);
    });
  }

  get state(): unknown {
    return this.api.getState();
  }
  set state(state: unknown) {
    this.api.setState(state);
  }

  send(message: Exclude<Out, Asking>): void {
    this.sent++;
    this.api.postMessage(message);
  }

  /** The user does something here, and the next message tells of it. */
  acts(): void {
    this.actedAt = this.sent + 1;
  }

  /** Whether what was asked for elsewhere, when so many messages had been heard there, is later than what the user did here last. */
  isLater(heard: number): boolean {
    return heard >= this.actedAt;
  }

  /** `done` hears the answer unless a newer question of the same kind (`line`) has been asked meanwhile. */
  ask(line: string, question: Without<Extract<Out, Asking>>, done: (answer: Extract<In, Asking>) => void): void {
    if (this.underWay.has(line)) {
      this.waiting.set(line, { question, done });
      return;
    }
    const ask = ++this.asked;
    this.underWay.set(line, { ask, done });
    this.sent++;
    this.api.postMessage({ ...question, ask });
  }

  private answered(answer: Extract<In, Asking>): void {
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
