// What a hover says, before it is known how it will be shown: a title, labelled values, and sentences.

import type { Range } from '../../formats/range.js';

export interface Card {
  /** What the card is about: the cell's own place. */
  readonly range: Range;
  readonly title: string;
  readonly rows: readonly (readonly [label: string, value: string])[];
  readonly notes: readonly string[];
}

/** Markdown in which nothing out of a file can be more than text. */
export function asMarkdown({ title, rows, notes }: Card): string {
  const table =
    rows.length > 0
      ? ['| | |', '| --- | --- |', ...rows.map(([label, value]) => `| ${escaped(label)} | ${escaped(value)} |`)].join('\n')
      : '';
  return [`**${escaped(title)}**`, table, ...notes.map(escaped)].filter((part) => part !== '').join('\n\n');
}

export function asPlainText({ title, rows, notes }: Card): string {
  return [title, ...rows.map(([label, value]) => (label === '' ? value : `${label}: ${value}`)), ...notes].join('\n');
}

/** What has a meaning in Markdown, and what GitHub's kind of it makes links of: `:` `@` and each `.` but that of a decimal. */
const MARKUP = /[\\`*_{}[\]<>()#+!|~&$:@-]|(?<!\d)\.|\.(?!\d)/g;

/** A text in which nothing has a meaning in Markdown, on one line. */
export const escaped = (text: string): string =>
  text
    .trim()
    .replace(MARKUP, '\\$&')
    .replace(/\s*[\r\n]+\s*/g, ' ');
