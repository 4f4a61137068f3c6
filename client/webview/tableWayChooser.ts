// Which pull is drawn over the cells: a session, then one of its runs.

import type { PathChoice } from '../../server/src/protocol/tableMessages.js';
import type { TableWords } from '../../server/src/protocol/tableWords.js';
import { el } from './dom.js';
import { runWords } from './tableSpeech.js';
import type { TableState } from './tableState.js';

export interface WayActs {
  session(uri: string | undefined): void;
  run(run: number): void;
}

export class WayChooser {
  readonly element = el('div', { class: 'way-choice' });
  /** Of the session chosen. */
  runs: readonly PathChoice[] = [];
  private readonly session = el('select', { id: 'way-session' });
  private readonly run = el('select', { id: 'way-run' });
  private readonly runRow: HTMLElement;
  private shown = '';

  constructor(
    private readonly words: TableWords,
    acts: WayActs,
  ) {
    this.session.addEventListener('change', () => acts.session(this.session.value || undefined));
    this.run.addEventListener('change', () => acts.run(Number(this.run.value)));
    this.runRow = el('span', { hidden: true }, el('label', { for: 'way-run' }, words.pull), ' ', this.run);
    this.element.append(el('label', { for: 'way-session' }, words.path), this.session, this.runRow);
  }

  /** Lists are made anew only when they have changed: an open one would close. */
  show(sessions: readonly { readonly uri: string; readonly name: string }[], path: TableState['path']): void {
    this.element.hidden = sessions.length === 0;
    const key = JSON.stringify([sessions, path, this.runs]);
    if (key === this.shown) return;
    this.shown = key;
    this.session.replaceChildren(
      el('option', { value: '' }, this.words.noPath),
      ...sessions.map(({ uri, name }) => el('option', { value: uri, selected: uri === path?.session }, name)),
    );
    this.run.replaceChildren(
      ...this.runs.map((each) => el('option', { value: each.run, selected: each.run === path?.run }, runWords(each, this.words))),
    );
    this.runRow.hidden = !path || this.runs.length === 0;
  }
}
