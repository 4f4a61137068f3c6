// Small pieces that every section is made of: tables with scopes, marks that say their meaning in words, bars.

import type { Severity } from '../findings/finding.js';
import { html, px, type Content, type Markup } from './html.js';

export interface Column {
  readonly head: string;
  readonly number?: boolean;
}

/** A table whose first column heads its rows. */
export const dataTable = (
  caption: string,
  columns: readonly Column[],
  rows: readonly (readonly Content[])[],
  bad: (row: number) => boolean = () => false,
): Markup => html`<table><caption>${caption}</caption>
<thead><tr>${columns.map(({ head, number }) => html`<th scope="col"${number ? html` class="n"` : ''}>${head}</th>`)}</tr></thead>
<tbody>${rows.map(
  (
    cells,
    row,
  ) => html`<tr${bad(row) ? html` class="bad"` : ''}>${cells.map((cell, at) => (at === 0 ? html`<th scope="row"${columns[at].number ? html` class="n"` : ''}>${cell}</th>` : html`<td${columns[at].number ? html` class="n"` : ''}>${cell}</td>`))}</tr>
`,
)}</tbody></table>`;

/** A severity in words with a sign that needs no colour. */
export function severityMark(severity: Severity): Markup {
  switch (severity) {
    case 'error':
      return html`<span class="sign error">■ error</span>`;
    case 'warning':
      return html`<span class="sign warning">▲ warning</span>`;
    case 'information':
    case 'hint':
      return html`<span class="sign">○ note</span>`;
  }
}

/** How much of a limit is used, with the limit marked; the number stands beside it in the table. */
export function headroomBar(value: number, limit: number, words: string): Markup {
  const most = Math.max(limit * 1.25, value * 1.02),
    x = (each: number): number => (140 * Math.max(0, each)) / most;
  const over = value >= limit;
  return html`<svg class="bar" viewBox="0 0 142 14" role="img" aria-label="${words}"><rect x="0.5" y="3" width="141" height="8" fill="#ffffff" stroke="#8c8c8c" stroke-width="0.6"/><rect x="0.5" y="3" width="${px(x(value))}" height="8" fill="${over ? '#b3400b' : '#0072b2'}"/><path d="M${px(x(limit))} 0V14" stroke="#000000" stroke-width="1.6"/></svg>`;
}

/** A list, or words where it is empty. */
export const list = (items: readonly Content[], otherwise: string): Markup =>
  items.length > 0 ? html`<ul>${items.map((item) => html`<li>${item}</li>`)}</ul>` : html`<p>${otherwise}</p>`;

export const counted = (count: number, word: string): string => `${count} ${word}${count === 1 ? '' : 's'}`;

export const clockWords = (seconds: number): string =>
  seconds < 60 ? `${seconds.toFixed(1)} s` : `${Math.floor(seconds / 60)} min ${Math.floor(seconds % 60)} s`;
