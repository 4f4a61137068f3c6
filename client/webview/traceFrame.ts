// The page that a trace stands in: the bar, the plots, what is read and listed beside them, and the lines that say what is shown.

import type { TraceWords } from '../../server/src/protocol/traceWords.js';
import { button, el, helpDialog } from './dom.js';
import { KEYS } from './keys.js';

export interface FrameParts {
  readonly stack: HTMLElement;
  readonly strip: HTMLElement;
  readonly readout: HTMLElement;
}

export interface FrameActs {
  key(event: KeyboardEvent): void;
  reset(): void;
  copy(): void;
  picture(): void;
  drawing(): void;
}

export class TraceFrame {
  readonly bar = el('header', { class: 'bar' });
  readonly runs = el('div');
  readonly findings = el('div');
  readonly legend = el('div', { class: 'run-legend', hidden: true });
  readonly shown = el('span');
  readonly told = el('span', { class: 'told' });
  /** For a screen reader. */
  readonly said = el('p', { class: 'unseen', role: 'status', 'aria-live': 'polite', id: 'said' });
  readonly plots: HTMLElement;
  readonly help: HTMLDialogElement;

  /** Takes the place of whatever the page held. */
  constructor(words: TraceWords, { stack, strip, readout }: FrameParts, acts: FrameActs) {
    this.plots = el(
      'div',
      {
        class: 'plots',
        id: 'plots',
        tabindex: 0,
        role: 'application',
        'aria-label': words.plots,
        'aria-describedby': 'said',
        onkeydown: acts.key,
      },
      this.legend,
      stack,
      strip,
    );
    const tools = el(
      'div',
      { class: 'tools' },
      button(words.reset, acts.reset),
      button(words.copy, acts.copy),
      button(words.picture, acts.picture),
      button(words.drawing, acts.drawing),
    );
    this.help = helpDialog(
      words.keys,
      KEYS.map(({ shown, words: does }) => [shown, words[does]] as const),
      words.mouse,
      words.close,
    );
    document.body.replaceChildren(
      this.bar,
      el('main', {}, this.plots, el('aside', { 'aria-label': words.readings, tabindex: -1 }, readout, tools, this.runs, this.findings)),
      el('p', { class: 'note' }, this.shown, this.told),
      this.said,
      this.help,
    );
    this.told.textContent = words.placeCursor;
  }

  tell(message: string): void {
    this.told.textContent = message;
    this.said.textContent = message;
  }
}
