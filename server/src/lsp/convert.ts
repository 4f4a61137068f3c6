// Our findings and cards in the shapes of the protocol; the only place where they change clothes.

import { DiagnosticSeverity, MarkupKind, type ClientCapabilities, type Diagnostic, type Hover } from 'vscode-languageserver';
import type { Finding, Severity } from '../findings/finding.js';
import { asMarkdown, asPlainText, type Card } from '../service/card.js';

const SEVERITIES: Readonly<Record<Severity, DiagnosticSeverity>> = {
  error: DiagnosticSeverity.Error, warning: DiagnosticSeverity.Warning, information: DiagnosticSeverity.Information, hint: DiagnosticSeverity.Hint,
};
const ORDER: readonly Severity[] = ['error', 'warning', 'information', 'hint'];

export interface DiagnosticOptions {
  /** URI that `<code>.md` is joined to; undefined: no links. */
  readonly docsBase: string | undefined;
  readonly related: boolean;
  readonly links: boolean;
  /** Findings below this severity are left out. */
  readonly least: Severity;
}

export const diagnosticsOf = (findings: readonly Finding[], uri: string, options: DiagnosticOptions): Diagnostic[] =>
  findings.filter(({ severity }) => ORDER.indexOf(severity) <= ORDER.indexOf(options.least)).map((finding) => diagnosticOf(finding, uri, options));

function diagnosticOf({ code, severity, range, message, related = [], channel, timeS, data }: Finding, uri: string, options: DiagnosticOptions): Diagnostic {
  return {
    range, message, code,
    severity: SEVERITIES[severity],
    source: 'leanspot',
    data: { channel, timeS, ...data },
    ...(options.docsBase !== undefined && options.links ? { codeDescription: { href: `${options.docsBase}${code}.md` } } : {}),
    ...(related.length > 0 && options.related
      ? { relatedInformation: related.map((other) => ({ location: { uri: other.file ?? uri, range: other.range }, message: other.message })) }
      : {}),
  };
}

/** A hover, in Markdown where the client shows it, else as plain text. */
export function hoverOf(card: Card, capabilities: ClientCapabilities): Hover {
  const formats = capabilities.textDocument?.hover?.contentFormat ?? [];
  const markdown = formats.includes(MarkupKind.Markdown);
  return { range: card.range, contents: { kind: markdown ? MarkupKind.Markdown : MarkupKind.PlainText, value: markdown ? asMarkdown(card) : asPlainText(card) } };
}
