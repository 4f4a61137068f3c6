// Our findings and cards in the shapes of the protocol; the only place where they change clothes.

import type { ClientCapabilities } from 'vscode-languageserver';
import {
  CodeActionKind,
  DiagnosticSeverity,
  MarkupKind,
  type ChangeAnnotation,
  type CodeAction,
  type Diagnostic,
  type Hover,
  type TextEdit,
  type WorkspaceEdit,
} from 'vscode-languageserver-types';
import type { Finding, Severity } from '../findings/finding.js';
import type { TableAction } from '../service/editor/codeActions.js';
import { CAUTIONS, type FileChange } from '../service/correction.js';
import { COMMANDS, type CorrectParams } from '../protocol/messages.js';
import { asMarkdown, asPlainText, type Card } from '../service/editor/card.js';

const SEVERITIES: Readonly<Record<Severity, DiagnosticSeverity>> = {
  error: DiagnosticSeverity.Error,
  warning: DiagnosticSeverity.Warning,
  information: DiagnosticSeverity.Information,
  hint: DiagnosticSeverity.Hint,
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
  findings
    .filter(({ severity }) => ORDER.indexOf(severity) <= ORDER.indexOf(options.least))
    .map((finding) => diagnosticOf(finding, uri, options));

function diagnosticOf(
  { code, severity, range, message, related = [], channel, timeS, data }: Finding,
  uri: string,
  options: DiagnosticOptions,
): Diagnostic {
  return {
    range,
    message,
    code,
    severity: SEVERITIES[severity],
    source: 'leanspot',
    data: { channel, timeS, ...data },
    ...(options.docsBase !== undefined && options.links ? { codeDescription: { href: `${options.docsBase}${code}.md` } } : {}),
    ...(related.length > 0 && options.related
      ? {
          relatedInformation: related.map((other) => ({
            location: { uri: other.file ?? uri, range: other.range },
            message: other.message,
          })),
        }
      : {}),
  };
}

/** A hover, in Markdown where the client shows it, else as plain text. */
export function hoverOf(card: Card, capabilities: ClientCapabilities): Hover {
  const formats = capabilities.textDocument?.hover?.contentFormat ?? [];
  const markdown = formats.includes(MarkupKind.Markdown);
  return {
    range: card.range,
    contents: { kind: markdown ? MarkupKind.Markdown : MarkupKind.PlainText, value: markdown ? asMarkdown(card) : asPlainText(card) },
  };
}

/** Whether a client can take an edit that makes a file: without it no earlier state could be kept, and no correction is offered. */
export const takesNewFiles = ({ workspace }: ClientCapabilities): boolean =>
  workspace?.workspaceEdit?.documentChanges === true && (workspace.workspaceEdit.resourceOperations ?? []).includes('create');

/**
 * Of a correction only the cells ask to be looked at: an editor then leaves them to be chosen, while the copy and the pins hold whichever
 * are.
 */
const CORRECTION: ChangeAnnotation = { label: 'Correct the table', description: CAUTIONS, needsConfirmation: true };
const KEEPING: ChangeAnnotation = { label: 'Keep the table as it was, pin the sessions to it', needsConfirmation: false };

export interface ActionOptions {
  readonly diagnostics: readonly Diagnostic[];
  /** Version of an open document, null for any other. */
  readonly version: (uri: string) => number | null;
  readonly capabilities: ClientCapabilities;
  /** Makes of a correction a command of the client, which tells the cautions before it asks for the edit. Undefined: the edit itself. */
  readonly asCommand?: Pick<CorrectParams, 'uri' | 'ranges'>;
}

/** A code action as the client gets it. */
export function codeActionOf(
  { kind, title, changes, preferred, ranges }: TableAction,
  { diagnostics, version, capabilities, asCommand }: ActionOptions,
): CodeAction {
  const answered = diagnostics.filter(({ range }) =>
    ranges.some(({ start }) => start.line === range.start.line && start.character === range.start.character),
  );
  const annotated = capabilities.workspace?.workspaceEdit?.changeAnnotationSupport !== undefined;
  return {
    title,
    kind: CodeActionKind.QuickFix,
    isPreferred: preferred && (answered.length > 0 || kind === 'keep'),
    diagnostics: answered,
    ...(asCommand && kind !== 'keep'
      ? { command: { title, command: COMMANDS.correctTable, arguments: [{ ...asCommand, kind } satisfies CorrectParams] } }
      : { edit: workspaceEditOf(kind, changes, version, annotated) }),
  };
}

/** A correction changes the table last; what comes before keeps its earlier state. */
function workspaceEditOf(
  kind: TableAction['kind'],
  changes: readonly FileChange[],
  version: (uri: string) => number | null,
  annotated: boolean,
): WorkspaceEdit {
  const annotations = { correction: CORRECTION, keeping: KEEPING };
  return {
    documentChanges: changes.flatMap((change): NonNullable<WorkspaceEdit['documentChanges']> => {
      const annotation = annotated ? { annotationId: kind !== 'keep' && change === changes.at(-1) ? 'correction' : 'keeping' } : {};
      const editsOf = (edits: readonly TextEdit[]): TextEdit[] => edits.map((edit) => ({ ...edit, ...annotation }));
      if (change.kind === 'edit')
        return [{ textDocument: { uri: change.uri, version: version(change.uri) }, edits: editsOf(change.edits) }];
      const start = { line: 0, character: 0 };
      return [
        { kind: 'create', uri: change.uri, options: { overwrite: false, ignoreIfExists: false }, ...annotation },
        { textDocument: { uri: change.uri, version: null }, edits: editsOf([{ range: { start, end: start }, newText: change.text }]) },
      ];
    }),
    ...(annotated ? { changeAnnotations: kind === 'keep' ? { keeping: KEEPING } : annotations } : {}),
  };
}
