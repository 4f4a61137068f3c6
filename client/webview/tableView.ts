// A table's picture as a whole: holds the state, and tells each part what has changed.

import type { PictureCell, TablePicture } from '../../server/src/protocol/table.js';
import { isToTableView, type FromTableView, type TextSpan, type ToTableView } from '../../server/src/protocol/tableMessages.js';
import { MOST_PICTURE_CELLS } from '../../server/src/protocol/table.js';
import type { TableWords } from '../../server/src/protocol/tableWords.js';
import { fill } from '../../server/src/protocol/traceWords.js';
import { afterQuiet, button, choice, el, helpDialog, perFrame } from './dom.js';
import { Host } from './host.js';
import { cellsOf, TableGrid } from './tableGrid.js';
import { TABLE_KEYS, tableActOf, type TableAct } from './tableKeys.js';
import { legendOf } from './tableLegend.js';
import { aroundOf, colourOf, STEPS } from './tableScale.js';
import { drawSlice, slicedAlong } from './tableSlice.js';
import { detailWords, placeWords, runWords, selectionWords, unitOf, wayWords, type NamedWay } from './tableSpeech.js';
import {
  cellsMeant,
  cellsTouched,
  EVERY_SHOWN,
  firstTableState,
  keptOf,
  rectangle,
  restoredTable,
  spansOfCells,
  stepped,
  type Along,
  type Shown,
  type TableState,
} from './tableState.js';
import { drawWay } from './tableWay.js';
import { WayChooser } from './tableWayChooser.js';

export type TableHost = Host<FromTableView, ToTableView>;

const LEAST_SLICE = { width: 240, height: 165 };

class TableView {
  private state: TableState;
  private textSpans: readonly TextSpan[] = [];
  private way: NamedWay | undefined;
  private readonly grid: TableGrid;
  private readonly chooser: WayChooser;
  private readonly bar = el('header', { class: 'bar' });
  private readonly shown = el('div');
  private readonly over = el('div', { class: 'over' });
  private readonly field = el('div', { class: 'field' });
  private readonly legend = el('div', { class: 'legend' });
  private readonly details = el('section', { class: 'details' });
  private readonly slice = el('div', { class: 'slice-room' });
  private readonly sliceHead = el('div', { class: 'slice-head' });
  private readonly note = el('p', { class: 'note' });
  private readonly said = el('p', { class: 'unseen', role: 'status', 'aria-live': 'polite', id: 'said' });
  private readonly help: HTMLDialogElement;

  constructor(
    private readonly host: TableHost,
    private picture: TablePicture,
    private readonly words: TableWords,
  ) {
    this.state = restoredTable(host.state, picture) ?? firstTableState(picture);
    this.grid = new TableGrid(words, {
      press: (cell, grow) => this.moveTo(cell, grow, 'here'),
      key: (event) => this.key(event),
      open: (cell) => this.open(cell),
    });
    this.chooser = new WayChooser(words, {
      session: (session) => this.set({ path: session === undefined ? undefined : { session, run: undefined } }),
      run: (run) => this.set({ path: this.state.path && { ...this.state.path, run } }),
    });
    this.field.append(this.grid.element, this.over);
    this.help = helpDialog(
      words.keys,
      TABLE_KEYS.map(({ shown, words: does }) => [shown, words[does]] as const),
      words.mouse,
      words.close,
    );
    const along = el('section', { class: 'slice' }, this.sliceHead, this.slice);
    this.bar.append(
      this.shown,
      this.chooser.element,
      el('span', { class: 'push' }),
      button(words.keys, () => this.help.showModal()),
    );
    document.body.replaceChildren(
      this.bar,
      this.legend,
      el(
        'main',
        {},
        el('div', { class: 'scroll', tabindex: -1 }, this.field),
        el('aside', { 'aria-label': words.cell }, this.details, along),
      ),
      this.note,
      this.said,
      this.help,
    );
    new ResizeObserver(
      perFrame(() => {
        this.drawWay();
        this.drawSlice();
      }),
    ).observe(this.field);
    new ResizeObserver(perFrame(() => this.drawSlice())).observe(this.slice);
    new MutationObserver(perFrame(() => this.colours())).observe(document.body, { attributes: true, attributeFilter: ['class'] });
    this.colours();
    this.showChoice();
    this.renew(picture);
    const { path } = this.state;
    if (path) this.askRuns();
    this.grid.select(this.state, true);
  }

  // What the extension tells.

  /** The text was typed in, or sessions have been weighed. */
  renew(picture: TablePicture): void {
    this.picture = picture;
    this.state = restoredTable({ ...this.state, selected: [...this.state.selected] }, picture) ?? firstTableState(picture);
    if (picture.cells.length === 0) {
      this.tell(picture.cellCount > 0 ? fill(this.words.tooMany, picture.cellCount, MOST_PICTURE_CELLS) : this.words.noCells);
    }
    this.field.hidden = picture.cells.length === 0;
    // Numbers have moved in the text: what is selected there may be another cell now.
    if (this.textSpans.length > 0) this.selectTouched();
    this.showAll();
    document.body.dataset.painted = 'true';
  }

  /** The text's selections. */
  selected(spans: readonly TextSpan[]): void {
    this.textSpans = spans;
    this.selectTouched();
    this.showSelection(this.grid.hasFocus);
    this.save();
  }

  tell(message: string): void {
    this.note.textContent = message;
    this.said.textContent = message;
  }

  private selectTouched(): void {
    const touched = cellsTouched(this.picture.cells, this.textSpans);
    const [first] = touched;
    this.state = {
      ...this.state,
      selected: new Set(touched),
      ...(first === undefined || touched.includes(this.state.focus) ? {} : { focus: first, anchor: first }),
    };
  }

  // State.

  private set(change: Partial<TableState>): void {
    const before = this.state;
    this.state = { ...before, ...change };
    if (change.shown !== undefined && change.shown !== before.shown) {
      if (change.shown === 'duty' && this.picture.dutyKnown === null) this.host.send({ type: 'duty' });
      this.showChoice();
    }
    if (change.along !== undefined) this.drawSlice();
    if ('path' in change) this.pathChanged(before.path);
    if ('shown' in change) this.showAll();
    this.save();
  }

  private readonly save = afterQuiet(() => {
    this.host.state = keptOf(this.state);
  }, 100);

  private pathChanged(before: TableState['path']): void {
    const { path } = this.state;
    if (path?.session !== before?.session && path) this.askRuns();
    if (!path || path.run === undefined) this.setWay(undefined);
    else this.askPath();
    this.chooser.show(this.picture.sessions, path);
  }

  private askRuns(): void {
    const { path } = this.state;
    if (!path) return;
    this.host.ask('runs', { type: 'runs', session: path.session }, (answer) => {
      if (answer.type !== 'runs') return this.failed(answer);
      this.chooser.runs = answer.runs;
      const known = this.state.path?.run === undefined ? undefined : answer.runs[this.state.path.run];
      const first = answer.runs.find(({ pull }) => pull > 0) ?? answer.runs[0];
      if (answer.runs.length === 0) this.tell(this.words.noRuns);
      this.set({ path: { session: path.session, run: known?.run ?? first?.run } });
    });
  }

  private askPath(): void {
    const { path } = this.state;
    if (path?.run === undefined) return;
    const { session, run } = path;
    this.host.ask('path', { type: 'path', session, run }, (answer) => {
      if (answer.type !== 'path') return this.failed(answer);
      const chosen = this.chooser.runs.find((each) => each.run === run);
      if (this.state.path?.run === run) this.setWay({ path: answer.path, name: chosen ? runWords(chosen, this.words) : '' });
    });
  }

  private failed(answer: { readonly type: string; readonly message?: string }): void {
    if (this.way) this.setWay(undefined);
    if (answer.message) this.tell(answer.message);
  }

  private setWay(way: NamedWay | undefined): void {
    this.way = way;
    this.drawWay();
    if (way) this.tell(wayWords(way, this.picture, this.words));
    else this.note.textContent = '';
  }

  // Drawing.

  private colours(): void {
    const { classList, style } = document.body;
    const onDark = !classList.contains('vscode-light') && !classList.contains('vscode-high-contrast-light');
    for (const step of STEPS) style.setProperty(`--step${step < 0 ? 'm' : ''}${Math.abs(step)}`, colourOf(step, onDark));
    this.drawWay();
  }

  private showChoice(): void {
    const { words, state } = this;
    const held = this.shown.contains(document.activeElement);
    this.shown.replaceChildren(
      choice<Shown>(
        'shown',
        words.shown,
        EVERY_SHOWN.map((each) => [each, words[each]] as const),
        state.shown,
        (shown) => this.set({ shown }),
      ),
    );
    if (held) this.shown.querySelector<HTMLElement>('input:checked')?.focus();
  }

  private showAll(): void {
    const { picture, state, words } = this;
    if (picture.cells.length === 0) return;
    if (state.shown === 'duty' && picture.dutyKnown === null) this.host.send({ type: 'duty' });
    this.grid.show(picture, state);
    this.legend.replaceChildren(...legendOf(state.shown, aroundOf(picture), words));
    this.chooser.show(picture.sessions, state.path);
    const told =
      state.shown === 'duty' && picture.dutyKnown === false
        ? words.noDuty
        : picture.evidence === 'none'
          ? words.noSessions
          : picture.evidence === 'being weighed'
            ? words.weighing
            : '';
    this.note.textContent = told || (this.way ? wayWords(this.way, picture, words) : '');
    this.showSelection(false);
    this.drawWay();
  }

  private showSelection(takeFocus: boolean | 'here'): void {
    if (this.picture.cells.length === 0) return;
    this.grid.select(this.state, takeFocus);
    this.showDetails();
    this.drawSlice();
  }

  private showDetails(): void {
    const {
      picture,
      state: { focus, selected },
      words,
    } = this;
    const cell = picture.cells[focus];
    if (!cell) return;
    const head = el(
      'h2',
      {},
      fill(words.at, `${cell.text || words.blank} ${unitOf(picture.title)}`.trim(), placeWords(picture, focus, words)),
    );
    const meant = cellsMeant(this.state);
    const several = selected.size > 1 ? selectionWords(cellsOf(picture, selected), words) : [];
    const held = this.details.contains(document.activeElement) ? (document.activeElement as HTMLElement).dataset.keep : undefined;
    this.details.replaceChildren(
      head,
      ...detailWords(picture, cell, words).map((line) => el('p', {}, line)),
      ...several.map((line) => el('p', { class: 'faint' }, line)),
      el(
        'div',
        { class: 'tools' },
        button(words.openText, () => this.open(focus), { 'data-keep': 'open' }),
        button(words.moments, () => this.act({ do: 'moments' }), { 'data-keep': 'moments', disabled: !cell.evidence }),
        button(meant.size > 1 ? fill(words.correctSelected, meant.size) : words.correct, () => this.act({ do: 'correct' }), {
          'data-keep': 'correct',
          disabled: !cellsOf(picture, meant).some(({ proposed }) => proposed),
        }),
        button(words.correctAll, () => this.host.send({ type: 'correct', spans: null }), {
          'data-keep': 'all',
          disabled: !picture.cells.some(({ proposed }) => proposed),
        }),
      ),
    );
    if (held) this.details.querySelector<HTMLElement>(`[data-keep="${held}"]`)?.focus();
    if (several.length > 0) this.said.textContent = several.join('. ');
  }

  private readonly drawSlice = perFrame(() => {
    const {
      picture,
      state: { focus, along },
      words,
    } = this;
    if (picture.cells.length === 0) return;
    const { way, only, name } = slicedAlong(picture, focus, along, words);
    const held = this.sliceHead.contains(document.activeElement);
    this.sliceHead.replaceChildren(
      el('h2', {}, words.slice, ': ', name),
      ...(only
        ? []
        : [
            choice<Along>(
              'along',
              words.sliceAlong,
              [
                ['row', words.row],
                ['column', words.column],
              ],
              way,
              (next) => this.set({ along: next }),
            ),
          ]),
    );
    if (held) this.sliceHead.querySelector<HTMLElement>('input:checked')?.focus();
    const size = { width: Math.max(LEAST_SLICE.width, this.slice.clientWidth), height: LEAST_SLICE.height };
    this.slice.replaceChildren(
      drawSlice(picture, focus, way, size, name, words),
      el(
        'p',
        { class: 'faint keyed' },
        el('span', { class: 'key-now' }, words.now),
        el('span', { class: 'key-interval' }, words.bar),
        el('span', { class: 'key-after' }, words.after),
      ),
    );
  });

  private drawWay(): void {
    const { way } = this;
    if (!way || this.picture.cells.length === 0) return this.over.replaceChildren();
    const { offsetWidth: width, offsetHeight: height } = this.grid.element;
    this.over.replaceChildren(drawWay(way.path, this.grid.middles, { width, height }, this.words));
  }

  // Selecting and keys.

  /** By hand, many times a second: the text is told once a frame. */
  private moveTo(cell: number, grow: boolean, takeFocus: boolean | 'here'): void {
    const anchor = grow ? this.state.anchor : cell;
    this.state = { ...this.state, focus: cell, anchor, selected: rectangle(anchor, cell, this.picture.columns.texts.length) };
    this.textSpans = [];
    this.showSelection(takeFocus);
    this.tellText();
    this.save();
  }

  private readonly tellText = perFrame(() => {
    const { selected, focus } = this.state;
    this.host.send({ type: 'select', spans: spansOfCells(this.picture.cells, selected, focus), open: false });
  });

  private open(cell: number): void {
    this.host.send({ type: 'select', spans: spansOfCells(this.picture.cells, new Set([cell]), cell), open: true });
  }

  private key(event: KeyboardEvent): void {
    const act = tableActOf(event);
    if (!act) return;
    event.preventDefault();
    this.act(act);
  }

  private act(act: TableAct): void {
    const { picture, state } = this;
    const cell: PictureCell | undefined = picture.cells[state.focus];
    if (!cell) return;
    switch (act.do) {
      case 'step':
        return this.moveTo(
          stepped(state.focus, act.rows, act.columns, picture.columns.texts.length, picture.rows.texts.length),
          act.grow,
          true,
        );
      case 'all': {
        this.state = { ...state, selected: new Set(picture.cells.keys()) };
        this.textSpans = [];
        this.showSelection(true);
        return this.tellText();
      }
      case 'open':
        return this.open(state.focus);
      case 'moments':
        return this.host.send({ type: 'moments', line: cell.line, character: cell.character });
      case 'correct':
        return this.host.send({ type: 'correct', spans: spansOfCells(picture.cells, cellsMeant(state), state.focus) });
      case 'slice':
        return this.set({ along: state.along === 'row' ? 'column' : 'row' });
      case 'show':
        return this.set({ shown: EVERY_SHOWN[act.shown] ?? state.shown });
      case 'help':
        return this.help.showModal();
    }
  }
}

/** The view is built when the first picture comes. */
export function startTable(): void {
  let view: TableView | undefined;
  const host: TableHost = new Host<FromTableView, ToTableView>(isToTableView, (message) => {
    switch (message.type) {
      case 'picture':
        if (view) view.renew(message.picture);
        else view = new TableView(host, message.picture, message.words);
        return;
      case 'selected':
        return view?.selected(message.spans);
      case 'tell':
        return view ? view.tell(message.message) : void (document.body.textContent = message.message);
    }
  });
  host.send({ type: 'ready', duty: (host.state as { shown?: unknown } | undefined)?.shown === 'duty' });
}
