// The cells of a table as a grid that keys and the mouse move over: one cell at a time can be tabbed to, headers name rows and columns.

import type { PictureCell, TablePicture } from '../../server/src/protocol/table.js';
import type { TableWords } from '../../server/src/protocol/tableWords.js';
import { el, perFrame } from './dom.js';
import { cellWordsOf } from './tableSpeech.js';
import { aroundOf, markOf } from './tableScale.js';
import type { TableState } from './tableState.js';

export interface GridActs {
  /** A cell is pressed; `grow`: the selection reaches from its anchor to here. */
  press(cell: number, grow: boolean): void;
  key(event: KeyboardEvent): void;
  open(cell: number): void;
}

const PROOF_MARK = { firm: '■', thin: '□' } as const;

interface Drawn {
  readonly element: HTMLTableCellElement;
  readonly words: HTMLElement;
  readonly text: HTMLElement;
  readonly bar: HTMLElement;
  readonly proof: HTMLElement;
  look: string;
}

export class TableGrid {
  readonly element = el('table', { role: 'grid', class: 'cells', 'aria-multiselectable': 'true' });
  private drawn: Drawn[] = [];
  private axes = '';
  private width = 1;
  private tabStop = -1;

  constructor(
    private readonly words: TableWords,
    private readonly acts: GridActs,
  ) {
    this.element.setAttribute('aria-label', words.grid);
    this.listen();
  }

  /** Cells are made anew only where the axes have changed. */
  show(picture: TablePicture, state: TableState): void {
    const axes = JSON.stringify([picture.columns, picture.rows]);
    const held = this.hasFocus;
    if (axes !== this.axes) {
      this.build(picture);
      this.axes = axes;
    }
    const around = aroundOf(picture);
    picture.cells.forEach((cell, at) => {
      const drawn = this.drawn[at];
      const mark = markOf(cell, state.shown, around, this.words);
      const look = JSON.stringify([mark, cell.evidence, cell.proposed, cell.text]);
      if (look === drawn.look) return;
      drawn.look = look;
      drawn.text.textContent = mark.text || '·';
      drawn.text.classList.toggle('nothing', mark.text === '');
      drawn.bar.className = `bar s${mark.step} ${cell.evidence?.proof === 'thin' && state.shown !== 'value' && state.shown !== 'duty' ? 'thin' : ''}`;
      const half = Math.min(1, Math.abs(mark.size)) * 50;
      drawn.bar.style.width = `${half}%`;
      drawn.bar.style.left = `${mark.size < 0 ? 50 - half : 50}%`;
      drawn.bar.hidden = mark.step === 0;
      drawn.proof.textContent = cell.evidence ? PROOF_MARK[cell.evidence.proof] : '';
      drawn.words.textContent = cellWordsOf(cell, mark, picture, this.words);
    });
    this.select(state, held);
  }

  /** Marks what is selected; the keyboard's focus comes along where it is taken: `here` without scrolling, as the hand is there already. */
  select({ selected, focus }: TableState, takeFocus: boolean | 'here'): void {
    this.drawn.forEach(({ element }, at) => {
      const isSelected = selected.has(at);
      if ((element.getAttribute('aria-selected') === 'true') !== isSelected) element.setAttribute('aria-selected', String(isSelected));
    });
    const moved = this.tabStop !== focus;
    if (moved) {
      this.drawn[this.tabStop]?.element.setAttribute('tabindex', '-1');
      this.drawn[focus]?.element.setAttribute('tabindex', '0');
      this.tabStop = focus;
    }
    if (moved && !takeFocus) this.drawn[focus]?.element.scrollIntoView({ block: 'nearest', inline: 'nearest' });
    if (takeFocus) this.drawn[focus]?.element.focus({ preventScroll: takeFocus === 'here' });
  }

  /** Asked before the focus is moved: a view that is not in use must not take it from the text. */
  get hasFocus(): boolean {
    return document.hasFocus() && this.element.contains(document.activeElement);
  }

  /** Middles of the columns and rows, CSS pixels from the grid's corner. */
  get middles(): { readonly x: readonly number[]; readonly y: readonly number[] } {
    const at = (cell: number): HTMLElement | undefined => this.drawn[cell]?.element;
    const columns = Array.from({ length: this.width }, (_, column) => at(column)).filter((cell) => cell !== undefined);
    const rows = Array.from({ length: Math.ceil(this.drawn.length / this.width) }, (_, row) => at(row * this.width)).filter(
      (cell) => cell !== undefined,
    );
    return {
      x: columns.map((cell) => cell.offsetLeft + cell.offsetWidth / 2),
      y: rows.map((cell) => cell.offsetTop + cell.offsetHeight / 2),
    };
  }

  private build({ columns, rows, title }: TablePicture): void {
    this.width = columns.texts.length;
    this.tabStop = -1;
    const head = el(
      'thead',
      {},
      el('tr', {}, el('td', { class: 'corner' }), ...columns.texts.map((text) => el('th', { scope: 'col' }, text || this.words.only))),
    );
    this.drawn = [];
    const body = el(
      'tbody',
      {},
      ...rows.texts.map((text, row) =>
        el(
          'tr',
          {},
          el('th', { scope: 'row' }, text || this.words.only),
          ...columns.texts.map((_, column) => {
            const seen = { 'aria-hidden': 'true' };
            const said = el('span', { class: 'unseen' }),
              number = el('span', { class: 'number', ...seen }),
              bar = el('i', { class: 'bar' }),
              proof = el('span', { class: 'proof', ...seen });
            const element = el(
              'td',
              { role: 'gridcell', tabindex: -1, 'aria-selected': 'false', 'data-cell': row * this.width + column },
              said,
              number,
              proof,
              el('span', { class: 'track', ...seen }, bar),
            );
            this.drawn.push({ element, words: said, text: number, bar, proof, look: '' });
            return element;
          }),
        ),
      ),
    );
    this.element.replaceChildren(
      el(
        'caption',
        {},
        el('span', {}, [title, columns.title && `→ ${columns.title}`, rows.title && `↓ ${rows.title}`].filter(Boolean).join('  ')),
      ),
      head,
      body,
    );
  }

  private listen(): void {
    const cellAt = (target: EventTarget | null): number | undefined => {
      const cell = target instanceof Element ? target.closest<HTMLElement>('td[data-cell]') : null;
      return cell ? Number(cell.dataset.cell) : undefined;
    };
    let dragging = false,
      last: number | undefined;
    const drag = perFrame((x: number, y: number) => {
      const cell = dragging ? cellAt(document.elementFromPoint(x, y)) : undefined;
      if (cell === undefined || cell === last) return;
      last = cell;
      this.acts.press(cell, true);
    });
    this.element.addEventListener('pointerdown', (event) => {
      const cell = cellAt(event.target);
      if (cell === undefined || event.button !== 0) return;
      // The browser would select words.
      event.preventDefault();
      dragging = true;
      last = cell;
      this.acts.press(cell, event.shiftKey);
    });
    window.addEventListener('pointermove', (event) => {
      if (dragging) drag(event.clientX, event.clientY);
    });
    for (const end of ['pointerup', 'pointercancel', 'blur'])
      window.addEventListener(end, () => {
        dragging = false;
      });
    this.element.addEventListener('dblclick', (event) => {
      const cell = cellAt(event.target);
      if (cell !== undefined) this.acts.open(cell);
    });
    this.element.addEventListener('keydown', (event) => this.acts.key(event));
    // What was selected in the text meanwhile is where keys go on.
    window.addEventListener('focus', () => {
      if (document.activeElement === document.body || this.element.contains(document.activeElement))
        this.drawn[this.tabStop]?.element.focus({ preventScroll: true });
    });
  }
}

/** The numbers of a cell that a rectangle or a list of cells is said by. */
export const cellsOf = (picture: TablePicture, selected: Iterable<number>): PictureCell[] =>
  [...selected].flatMap((at) => picture.cells[at] ?? []);
