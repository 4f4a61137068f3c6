// Every channel at the cursor, in the reader's unit; with a mark set, the difference, rate and mean between the two.

import type { SpanResult, TraceSample, TraceSummary } from '../../server/src/protocol/trace.js';
import { fill, type TraceWords } from '../../server/src/protocol/traceWords.js';
import { button, el } from './dom.js';
import type { ViewState } from './state.js';
import { choiceKey, readingOf, timeWords, unitsFor } from './units.js';

export interface ReadoutActs {
  show(id: string, shown: boolean): void;
  unit(key: string, symbol: string): void;
  openRow(): void;
  openCell(): void;
}

export class Readout {
  readonly element = el('section', { class: 'readout' });
  private readonly where = el('div', { class: 'where' });
  private readonly body = el('tbody');
  private readonly head = el('tr');
  private cells: { at: HTMLElement; more: HTMLElement[] }[] = [];
  private summary: TraceSummary | undefined;
  private state: ViewState | undefined;

  constructor(
    private readonly words: TraceWords,
    private readonly acts: ReadoutActs,
  ) {
    this.element.append(el('h2', {}, words.readings), this.where, el('table', {}, el('thead', {}, this.head), this.body));
  }

  /** A row a channel; anew when lanes or units change. */
  build(summary: TraceSummary, state: ViewState): void {
    const { words } = this;
    this.summary = summary;
    this.state = state;
    const shown = new Set(state.lanes.flat());
    this.head.replaceChildren(
      el('th', { scope: 'col' }, words.channel),
      el('th', { scope: 'col', class: 'number' }, words.atCursor),
      el('th', { scope: 'col' }, el('span', { class: 'unseen' }, words.unit)),
      ...[words.atMark, words.difference, words.rate, words.mean].map((label) => el('th', { scope: 'col', class: 'number more' }, label)),
    );
    this.cells = [];
    this.body.replaceChildren(
      ...summary.channels.map((channel) => {
        const box = el('input', {
          type: 'checkbox',
          'aria-label': fill(words.shown, channel.name),
          onchange: () => this.acts.show(channel.id, box.checked),
        });
        box.checked = shown.has(channel.id);
        const units = unitsFor(channel, summary);
        const reading = readingOf(channel, summary, state.units);
        const choice =
          units.length > 1
            ? el(
                'select',
                {
                  'aria-label': fill(words.unitOf, channel.name),
                  onchange: () => this.acts.unit(choiceKey(channel), choice instanceof HTMLSelectElement ? choice.value : ''),
                },
                ...units.map(({ symbol }) => el('option', { value: symbol, selected: symbol === reading.symbol }, symbol)),
              )
            : el('span', {}, reading.symbol);
        const at = el('td', { class: 'number' }, '—');
        const more = Array.from({ length: 4 }, () => el('td', { class: 'number more' }));
        this.cells.push({ at, more });
        return el('tr', {}, el('th', { scope: 'row' }, el('label', {}, box, channel.name)), at, el('td', {}, choice), ...more);
      }),
    );
  }

  at(sample: TraceSample | undefined): void {
    const { summary, state, words } = this;
    if (!summary || !state) return;
    summary.channels.forEach((channel, index) => {
      const value = sample?.values[index];
      const reading = readingOf(channel, summary, state.units);
      this.cells[index].at.textContent = value === null || value === undefined ? '—' : reading.format(reading.convert(value));
    });
    if (!sample) {
      this.where.replaceChildren(el('p', { class: 'faint' }, words.placeCursor));
      return;
    }
    this.where.replaceChildren(
      el(
        'p',
        {},
        el('strong', {}, timeWords(sample.timeS, 1)),
        ` · ${fill(words.row, sample.line + 1)}`,
        ...(sample.doing ? [` · ${sample.doing}`] : []),
      ),
      ...sample.doubts.map((doubt) => el('p', { class: 'doubt' }, `${words.doubt}: ${doubt}`)),
      el(
        'p',
        { class: 'faint' },
        sample.cell
          ? `${fill(words.cell, sample.cell.words)}, ${fill(words.cellMore, sample.cell.sharePercent, sample.cell.delayMs)}`
          : words.noCell,
      ),
      el('p', {}, button(words.openRow, this.acts.openRow), ' ', button(words.openCell, this.acts.openCell, { disabled: !sample.cell })),
    );
  }

  /** `undefined`: no mark is set. */
  span(span: SpanResult | undefined, cursorFirst: boolean): void {
    const { summary, state } = this;
    this.element.classList.toggle('spanned', span !== undefined);
    if (!summary || !state || !span) return;
    const lastsS = span.toS - span.fromS;
    summary.channels.forEach((channel, index) => {
      const numbers = span.channels[index];
      const { convert, format } = readingOf(channel, summary, state.units);
      const value = (canonical: number | null | undefined): number =>
        canonical === null || canonical === undefined ? NaN : convert(canonical);
      const mark = value(cursorFirst ? numbers?.to : numbers?.from);
      const difference = value(numbers?.to) - value(numbers?.from);
      const texts = [format(mark), format(difference), format(difference / lastsS), numbers ? format(convert(numbers.mean)) : '—'];
      this.cells[index].more.forEach((cell, k) => {
        cell.textContent = texts[k];
      });
    });
  }
}
