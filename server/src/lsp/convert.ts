// Our findings and cards in the shapes of the protocol; the only place where they change clothes.

import {
  CodeActionKind, DiagnosticSeverity, MarkupKind,
  type ChangeAnnotation, type ClientCapabilities, type CodeAction, type Diagnostic, type Hover, type OptionalVersionedTextDocumentIdentifier, type TextDocumentEdit, type WorkspaceEdit,
} from 'vscode-languageserver';
import type { Finding, Severity } from '../findings/finding.js';
import type { TableAction } from '../service/codeActions.js';
import { CAUTIONS, type FileChange } from '../service/correction.js';
import type { TableActionKind } from '../protocol/messages.js';
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

/** Whether a client can take an edit that makes a file: without it no earlier state could be kept, and no correction is offered. */
export const takesNewFiles = ({ workspace }: ClientCapabilities): boolean =>
  workspace?.workspaceEdit?.documentChanges === true && (workspace.workspaceEdit.resourceOperations ?? []).includes('create');

const CHANGE = 'change';

/** What the change is called in its preview, what is to be thought of, and whether it asks to be looked at before it is taken. */
const ANNOTATIONS: Readonly<Record<TableActionKind, ChangeAnnotation>> = (() => {
  const correction = { label: 'Correct the table, keep its earlier state, pin the sessions to it', description: CAUTIONS, needsConfirmation: true };
  return { cells: correction, all: correction, keep: { label: 'Keep the table as it was, pin the sessions to it', needsConfirmation: false } };
})();

/** A code action as the client gets it; a correction's edit asks to be looked at. `version` of an open document, null for any other. */
export function codeActionOf(
  { kind, title, changes, preferred, ranges }: TableAction, diagnostics: readonly Diagnostic[], version: (uri: string) => number | null, capabilities: ClientCapabilities,
): CodeAction {
  const answered = diagnostics.filter(({ range }) => ranges.some(({ start }) => start.line === range.start.line && start.character === range.start.character));
  return {
    title, kind: CodeActionKind.QuickFix, isPreferred: preferred && (answered.length > 0 || kind === 'keep'), diagnostics: answered, data: { kind },
    edit: workspaceEditOf(changes, version, capabilities.workspace?.workspaceEdit?.changeAnnotationSupport === undefined ? undefined : ANNOTATIONS[kind]),
  };
}

function workspaceEditOf(changes: readonly FileChange[], version: (uri: string) => number | null, annotation: ChangeAnnotation | undefined): WorkspaceEdit {
  const annotated = annotation ? { annotationId: CHANGE } : {};
  const editOf = (textDocument: OptionalVersionedTextDocumentIdentifier, edits: FileChange & { kind: 'edit' }): TextDocumentEdit =>
    ({ textDocument, edits: edits.edits.map((edit) => ({ ...edit, ...annotated })) });
  return {
    documentChanges: changes.flatMap((change): NonNullable<WorkspaceEdit['documentChanges']> => {
      if (change.kind === 'edit') return [editOf({ uri: change.uri, version: version(change.uri) }, change)];
      const start = { line: 0, character: 0 };
      return [
        { kind: 'create', uri: change.uri, options: { overwrite: false, ignoreIfExists: false }, ...annotated },
        editOf({ uri: change.uri, version: null }, { kind: 'edit', uri: change.uri, edits: [{ range: { start, end: start }, newText: change.text }] }),
      ];
    }),
    ...(annotation ? { changeAnnotations: { [CHANGE]: annotation } } : {}),
  };
}
