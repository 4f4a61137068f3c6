// Findings to the editor: pulled where the client can pull, pushed where it can't, never both.

import {
  DocumentDiagnosticReportKind,
  LSPErrorCodes,
  ResponseError,
  type CancellationToken,
  type ClientCapabilities,
  type Connection,
  type Diagnostic,
  type DocumentDiagnosticReport,
  type ResultProgressReporter,
  type WorkspaceDiagnosticParams,
  type WorkspaceDiagnosticReport,
  type WorkspaceDiagnosticReportPartialResult,
  type WorkspaceDocumentDiagnosticReport,
} from 'vscode-languageserver';
import type { Finding } from '../findings/finding.js';
import type { FileCheck, LanguageService } from '../service/languageService.js';
import type { Answerer } from './answer.js';
import { diagnosticsOf } from './convert.js';
import type { EditorWorkspace } from './editorWorkspace.js';
import type { ReadersNumbers } from './readersNumbers.js';
import type { Scanner } from './scanner.js';
import type { SettingsOf } from './settings.js';

interface Parts {
  readonly connection: Connection;
  readonly service: LanguageService;
  readonly workspace: EditorWorkspace;
  readonly scanner: Scanner;
  readonly settingsOf: SettingsOf;
  readonly answer: Answerer;
  readonly capabilities: ClientCapabilities;
  readonly docsBase: string | undefined;
  /** The editor reads vehicle.json as JSON by itself. */
  readonly schemaKnown: boolean;
  readonly readers: ReadersNumbers;
}

/** What an editor that reads JSON by itself tells of an open file, where it is that editor's to tell. */
const TOLD_BY_EDITOR: readonly unknown[] = ['syntax', 'duplicate-key'];

export const clientPulls = (capabilities: ClientCapabilities): boolean => capabilities.textDocument?.diagnostic !== undefined;

export function serveDiagnostics(parts: Parts): void {
  if (clientPulls(parts.capabilities)) servePulls(parts);
  else servePushes(parts);
}

/** The diagnostics of a checked file, with the key of both the findings and the settings they are shown by. */
async function shown(
  { settingsOf, capabilities, docsBase, schemaKnown, workspace, readers }: Parts,
  uri: string,
  check: FileCheck | undefined,
): Promise<{ key: string; items: Diagnostic[] }> {
  const {
    check: { severity },
  } = await settingsOf(uri);
  const client = clientPulls(capabilities) ? capabilities.textDocument?.diagnostic : capabilities.textDocument?.publishDiagnostics;
  const document = workspace.document(uri);
  const isTold = ({ code, data }: Finding): boolean =>
    schemaKnown && document !== undefined && code === 'vehicle-invalid' && TOLD_BY_EDITOR.includes(data?.kind);
  const items = check
    ? diagnosticsOf(check.findings.filter((finding) => !isTold(finding)).map(readers.finding), document?.uri ?? uri, {
        docsBase,
        least: severity,
        related: client?.relatedInformation ?? false,
        links: client?.codeDescriptionSupport ?? false,
      })
    : [];
  return { key: `${severity}|${check?.key ?? 'none'}`, items };
}

function servePushes(parts: Parts): void {
  const { connection, scanner, workspace } = parts;
  const publish = async (uri: string, check: FileCheck | undefined): Promise<void> => {
    const document = workspace.document(uri);
    const version = document?.version;
    const { items } = await shown(parts, uri, check);
    // An edit that came meanwhile is checked by the next scan; these would point at the wrong cells.
    if (workspace.document(uri)?.version !== version) return;
    await connection.sendDiagnostics({ uri: document?.uri ?? uri, version, diagnostics: items });
  };
  const publishLogged = (uri: string, check: FileCheck | undefined): void => {
    publish(uri, check).catch((error: unknown) => connection.console.error(`Publishing findings of ${uri} failed: ${String(error)}`));
  };
  scanner.onChecked(publishLogged);
}

/**
 * Said of a text that was edited meanwhile: the client keeps what it shows until the next answer. After `ContentModified` it would show
 * nothing.
 */
const askAgain = (message: string): Error => new ResponseError(LSPErrorCodes.ServerCancelled, message, { retriggerRequest: true });

function servePulls(parts: Parts): void {
  const { connection, service, scanner, workspace, answer, capabilities } = parts;
  const canRefresh = capabilities.workspace?.diagnostics?.refreshSupport === true;
  const answered = new Map<string, { key: string; version: number | undefined }>();

  connection.languages.diagnostics.on(
    answer(
      'Findings',
      ({ textDocument }) => textDocument.uri,
      async ({ textDocument, previousResultId }, token): Promise<DocumentDiagnosticReport> => {
        const { uri } = textDocument;
        const version = workspace.document(uri)?.version;
        const check = await service.checkSoFar(uri, canRefresh);
        // At once: what is known next may come while this is put in words.
        answered.set(uri, { key: check?.key ?? 'none', version });
        const { key, items } = await shown(parts, uri, check);
        if (token.isCancellationRequested || workspace.document(uri)?.version !== version) throw askAgain('the file was edited meanwhile');
        return key === previousResultId
          ? { kind: DocumentDiagnosticReportKind.Unchanged, resultId: key }
          : { kind: DocumentDiagnosticReportKind.Full, resultId: key, items };
      },
      { kind: DocumentDiagnosticReportKind.Full, items: [] },
      askAgain,
    ),
  );

  // An open file whose findings changed because something else did: the client would not ask by itself.
  // Told of every check, not of changed ones alone: what the client holds may be from another moment than the scanner's last result.
  scanner.onSeen((uri, check) => {
    const document = workspace.document(uri);
    const last = document && answered.get(document.uri);
    if (last && last.version === document.version && last.key !== (check?.key ?? 'none')) refresh();
  });
  const refresh = (): void => {
    if (canRefresh) connection.languages.diagnostics.refresh().catch(() => undefined);
  };

  /** The client asked for the findings of the open text as it is, and will be told to ask again. */
  const isAnswered = (uri: string): boolean => {
    const document = workspace.document(uri);
    return canRefresh && document !== undefined && answered.get(document.uri)?.version === document.version;
  };

  connection.languages.diagnostics.onWorkspace((params, token, _work, results) =>
    workspaceReport(parts, isAnswered, params, token, results),
  );
}

/**
 * What changed since the client asked last; where nothing has, the answer waits until something does. What an open text was answered is
 * later than the scanner's last result: there nothing is told beside it.
 */
async function workspaceReport(
  parts: Parts,
  isAnswered: (uri: string) => boolean,
  { previousResultIds }: WorkspaceDiagnosticParams,
  token: CancellationToken,
  results?: ResultProgressReporter<WorkspaceDiagnosticReportPartialResult>,
): Promise<WorkspaceDiagnosticReport> {
  const { scanner, workspace } = parts;
  const known = new Map(previousResultIds.map(({ uri, value }) => [uri, value]));
  const report = async (uri: string, check: FileCheck | undefined): Promise<WorkspaceDocumentDiagnosticReport | undefined> => {
    const { key, items } = await shown(parts, uri, check);
    const document = workspace.document(uri);
    const spelled = document?.uri ?? uri;
    if (known.get(spelled) === key) return undefined;
    known.set(spelled, key);
    return { kind: DocumentDiagnosticReportKind.Full, uri: spelled, version: document?.version ?? null, resultId: key, items };
  };
  const changed = async (): Promise<WorkspaceDocumentDiagnosticReport[]> => {
    const items: WorkspaceDocumentDiagnosticReport[] = [];
    for (const [uri, check] of scanner.results) {
      const item = await report(uri, check);
      if (item) items.push(item);
    }
    for (const uri of [...known.keys()].filter(
      (other) => !scanner.results.has(other) && !workspace.document(other) && known.get(other) !== 'none',
    )) {
      known.set(uri, 'none');
      items.push({ kind: DocumentDiagnosticReportKind.Full, uri, version: null, items: [] });
    }
    const isAnsweredMeanwhile = ({ uri }: WorkspaceDocumentDiagnosticReport): boolean => isAnswered(uri);
    // Once such a text is closed, what its file holds is told again.
    for (const { uri } of items.filter(isAnsweredMeanwhile)) known.delete(uri);
    return items.filter((item) => !isAnsweredMeanwhile(item));
  };

  for (;;) {
    const items = token.isCancellationRequested ? [] : await changed();
    if (items.length > 0 || token.isCancellationRequested) {
      if (!results) return { items };
      results.report({ items });
      return { items: [] };
    }
    await nextChange(scanner, token);
  }
}

function nextChange(scanner: Scanner, token: CancellationToken): Promise<void> {
  return new Promise((resolve) => {
    const cancelled = token.onCancellationRequested(() => resolve());
    scanner.onceChecked(() => {
      cancelled.dispose();
      resolve();
    });
  });
}
