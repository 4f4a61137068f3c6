// Answers to look at, with the decimal sign of the reader's language. Edits, data and what is written keep the point of the files.

import type { CodeLens, DocumentSymbol, InlayHint } from 'vscode-languageserver';
import type { Finding } from '../findings/finding.js';
import type { TraceSample, TraceSummary } from '../protocol/trace.js';
import { decimalSign, withDecimalSign } from '../quantities/format.js';
import type { Card } from '../service/editor/card.js';

/** Each makes of an answer the same for this reader. What a file says, such as a name or a cell as written, stays as it is. */
export interface ReadersNumbers {
  card(card: Card): Card;
  finding(finding: Finding): Finding;
  lens(lens: CodeLens): CodeLens;
  hint(hint: InlayHint): InlayHint;
  symbol(symbol: DocumentSymbol): DocumentSymbol;
  summary(summary: TraceSummary): TraceSummary;
  sample(sample: TraceSample): TraceSample;
}

/** `language` as the client tells it (BCP 47). */
export function readersNumbers(language: string | undefined): ReadersNumbers {
  const sign = decimalSign(language);
  const words = (text: string): string => withDecimalSign(text, sign);
  const symbol = (each: DocumentSymbol): DocumentSymbol => ({
    ...each,
    ...(each.detail === undefined ? {} : { detail: words(each.detail) }),
    ...(each.children ? { children: each.children.map(symbol) } : {}),
  });
  return {
    card: (card) => ({ ...card, rows: card.rows.map(([label, value]) => [label, words(value)] as const), notes: card.notes.map(words) }),
    finding: (finding) => ({
      ...finding,
      message: words(finding.message),
      ...(finding.related ? { related: finding.related.map((related) => ({ ...related, message: words(related.message) })) } : {}),
    }),
    lens: (lens) => (lens.command ? { ...lens, command: { ...lens.command, title: words(lens.command.title) } } : lens),
    hint: (hint) => ({
      ...hint,
      ...(typeof hint.label === 'string' ? { label: words(hint.label) } : {}),
      ...(typeof hint.tooltip === 'string' ? { tooltip: words(hint.tooltip) } : {}),
    }),
    symbol,
    summary: (summary) => ({
      ...summary,
      runs: summary.runs.map((run) => ({ ...run, words: words(run.words) })),
      spells: summary.spells.map((spell) => ({ ...spell, message: words(spell.message) })),
    }),
    sample: (sample) => ({ ...sample, doing: words(sample.doing), doubts: sample.doubts.map(words) }),
  };
}
