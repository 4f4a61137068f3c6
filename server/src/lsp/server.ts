// The language server: what it can do, and which part answers what. Everything it knows it asks the service for.

import {
  CodeActionKind,
  CodeLensRefreshRequest,
  DidChangeConfigurationNotification,
  DidChangeWatchedFilesNotification,
  PositionEncodingKind,
  TextDocumentSyncKind,
  TextDocuments,
  type ClientCapabilities,
  type Connection,
  type FileOperationRegistrationOptions,
  type InitializeParams,
  type InitializeResult,
  type ServerCapabilities,
} from 'vscode-languageserver';
import type { InitializationOptions } from '../protocol/messages.js';
import { range } from '../formats/range.js';
import type { ByteSource } from '../formats/source.js';
import { EMPTY_VEHICLE } from '../formats/vehicle/vehicle.js';
import type { TallyElsewhere } from '../fueling/weigh.js';
import { followEdits } from '../service/followEdits.js';
import type { Keep } from '../service/keep.js';
import { createLanguageService } from '../service/languageService.js';
import type { AskElsewhere, Elsewhere, SessionTask } from '../service/sessionWork.js';
import type { Workspace } from '../service/workspace.js';
import type { SessionThreads } from '../disk/sessionThreads.js';
import { answerer, breathe, createForeground } from './answer.js';
import { bySchemes, clientFiles } from './clientFiles.js';
import { clientPulls, serveDiagnostics } from './diagnostics.js';
import { editLog, lengthOf } from './editLog.js';
import { editorWorkspace, linesOf, normalUri, type EditorWorkspace } from './editorWorkspace.js';
import { serveFeatures } from './features.js';
import { LongText } from './longText.js';
import { offerSessions } from './offerSessions.js';
import { readersNumbers } from './readersNumbers.js';
import { createScanner } from './scanner.js';
import { semanticTokensOptions } from './semanticTokens.js';
import { settingsFrom } from './settings.js';
import { serveReport } from './report.js';
import { reportStatus } from './status.js';
import { serveTablePicture } from './tablePicture.js';
import { serveTrace } from './trace.js';
import { serveVehicles } from './vehicles.js';

export interface ServerHost {
  /** Files that are not open in the editor; undefined where there is no disk. */
  readonly createDisk?: (folders: readonly string[]) => Workspace;
  /** Where the findings' pages are, where the client does not say; ends with `/`. */
  readonly docsBase: string | undefined;
  /** Where results are kept for the next start, in a folder given as a URI; a host without one keeps none. */
  readonly createKeep?: (folderUri: string) => Keep | undefined;
  /** Other threads for long sessions; without them all is done on this one. */
  readonly threads?: SessionThreads;
  /** Whether a part of a message came just now. */
  readonly isArriving?: () => boolean;
  /** The client has told that it will end the server. */
  readonly onShutdown?: () => void;
  /** Characters from which an open session is long: read on another thread, and its findings follow while it is edited. */
  readonly longText?: number;
  /** Blocks of evidence from which what they come to is told on another thread. */
  readonly longTally?: number;
}

/** Files whose changes on disk matter. */
const WATCHED = ['**/vehicle.json', '**/*.csv', '**/*.candump.log'];

/** Files and folders whose new names vehicle files and notes follow. */
const RENAMED: FileOperationRegistrationOptions['filters'] = [
  { pattern: { glob: '**/*.{csv,log,txt,tsv,dat}', matches: 'file' } },
  { pattern: { glob: '**', matches: 'folder' } },
];

/** Characters from which an open session is read on another thread: about 20 ms of work. */
const LONG_TEXT = 1 << 20;
/** Blocks of evidence from which what they come to is told on another thread: a piece of that work takes some milliseconds. */
const LONG_TALLY = 20_000;

export function startServer(connection: Connection, host: ServerHost): void {
  const longText = host.longText ?? LONG_TEXT;
  const log = editLog(longText);
  const open = new TextDocuments(log.texts);
  let clientHasFiles = false;
  const workspace = editorWorkspace(
    open,
    (folders) => {
      const disk = host.createDisk?.(folders);
      if (!clientHasFiles) return disk ?? noFiles(folders);
      return disk ? bySchemes(disk, clientFiles(connection, folders)) : clientFiles(connection, folders);
    },
    log,
  );
  const isLong = (uri: string): boolean => {
    const document = workspace.document(uri);
    return document !== undefined && lengthOf(document) >= longText;
  };
  let keep: Keep | undefined;
  const foreground = createForeground(host.isArriving);
  const service = createLanguageService(workspace, {
    inBackground: true,
    breathe: () => foreground.rest(),
    ...(host.threads
      ? { ...elsewhereFor(workspace, host.threads, longText, host.longTally ?? LONG_TALLY), isLong, lanes: host.threads.count }
      : {}),
    keep: {
      get version() {
        return keep?.version ?? '';
      },
      get: async (name) => keep?.get(name),
      put: async (name, text) => keep?.put(name, text),
    },
  });
  const answer = answerer(connection, workspace, foreground);
  let capabilities: ClientCapabilities = {};
  const settingsOf = settingsFrom(connection, () => capabilities.workspace?.configuration === true);
  /** Open files, the one touched last at the end. */
  const touched = new Set<string>();
  const scanner = createScanner(
    connection,
    service,
    { open: () => [...touched].reverse(), folders: () => workspace.folders, stamp: (uri) => workspace.stamp(uri) },
    foreground,
    host.threads,
  );

  connection.onInitialize((params): InitializeResult => {
    capabilities = params.capabilities;
    const {
      docsBase = host.docsBase,
      schemaKnown = false,
      commands = false,
      files = false,
      keepFolder,
    } = (params.initializationOptions ?? {}) as InitializationOptions;
    clientHasFiles = files;
    workspace.setFolders(foldersOf(params));
    keep = typeof keepFolder === 'string' ? host.createKeep?.(keepFolder) : undefined;
    const readers = readersNumbers(params.locale);
    serveDiagnostics({ connection, service, workspace, scanner, settingsOf, answer, capabilities, docsBase, schemaKnown, readers });
    serveFeatures({ connection, service, workspace, settingsOf, answer, capabilities, schemaKnown, commands, readers });
    serveTrace({ connection, service, answer, readers });
    serveVehicles({ connection, service, scanner, answer, folders: () => workspace.folders });
    serveTablePicture({ connection, service, settingsOf, answer });
    serveReport({ connection, service, workspace, answer, docsBase });
    reportStatus(connection, scanner, capabilities);
    // Of a long session that was typed in, what is shown around it is known only now.
    scanner.onChecked((uri, check) => {
      if (
        (check?.kind === 'table' && workspace.document(uri)) ||
        (check?.kind === 'session' && !check.isFollowing && !check.isFirst && isLong(uri))
      )
        refreshAround();
    });
    return { capabilities: serverCapabilities(capabilities), serverInfo: { name: 'leanspot' } };
  });

  /**
   * Factors and call-outs of an open table rest on sessions, and call-outs and tokens of a long session on its judging; the client does not
   * ask again by itself when those are done.
   */
  const refreshAround = (): void => {
    if (capabilities.workspace?.inlayHint?.refreshSupport) connection.languages.inlayHint.refresh().catch(() => undefined);
    if (capabilities.workspace?.codeLens?.refreshSupport) connection.sendRequest(CodeLensRefreshRequest.type).catch(() => undefined);
    if (capabilities.workspace?.semanticTokens?.refreshSupport) connection.languages.semanticTokens.refresh();
  };

  connection.onInitialized(() => {
    const register = (work: Promise<unknown>): void => {
      work.catch((error: unknown) => connection.console.warn(`The client refused a registration: ${String(error)}`));
    };
    if (capabilities.workspace?.didChangeConfiguration?.dynamicRegistration) {
      register(connection.client.register(DidChangeConfigurationNotification.type, { section: 'leanspot' }));
    }
    if (capabilities.workspace?.didChangeWatchedFiles?.dynamicRegistration) {
      register(
        connection.client
          .register(DidChangeWatchedFilesNotification.type, { watchers: WATCHED.map((globPattern) => ({ globPattern })) })
          .then(() => workspace.filesChanged(true)),
      );
    }
    if (capabilities.workspace?.workspaceFolders) {
      connection.workspace.onDidChangeWorkspaceFolders(({ added, removed }) => {
        const gone = removed.map(({ uri }) => normalUri(uri));
        workspace.setFolders([...workspace.folders.filter((uri) => !gone.includes(uri)), ...added.map(({ uri }) => normalUri(uri))]);
        scanner.soon();
      });
    }
    scanner.soon();
  });

  open.onDidChangeContent(({ document }) => {
    const uri = normalUri(document.uri);
    touched.delete(uri);
    touched.add(uri);
    scanner.soon();
  });
  open.onDidClose(({ document }) => {
    touched.delete(normalUri(document.uri));
    workspace.filesChanged();
    scanner.soon();
  });
  offerSessions(connection, service, open);
  connection.onDidChangeWatchedFiles(() => {
    workspace.filesChanged();
    scanner.soon();
  });
  connection.onDidChangeConfiguration(() => {
    settingsOf.forget();
    scanner.tellAll();
    if (clientPulls(capabilities) && capabilities.workspace?.diagnostics?.refreshSupport)
      connection.languages.diagnostics.refresh().catch(() => undefined);
  });
  connection.onShutdown(() => {
    scanner.dispose();
    host.threads?.dispose();
    host.onShutdown?.();
  });

  open.listen(connection);
  connection.listen();
}

/** What is open and short is done at once; all else on another thread, from the editor's text where it is open. */
const elsewhereFor = (
  workspace: EditorWorkspace,
  threads: SessionThreads,
  longText: number,
  longTally: number,
): { readonly elsewhere: Elsewhere; readonly askElsewhere: AskElsewhere; readonly tallyElsewhere: TallyElsewhere } => {
  const by = <T>(
    { uri }: SessionTask,
    open: () => Promise<ByteSource | undefined>,
    work: (bytes?: Uint8Array, grows?: boolean) => Promise<T>,
  ): Promise<T> | undefined => {
    const document = workspace.document(uri);
    if (!document && uri.startsWith('file:')) return work();
    if (document && lengthOf(document) < longText) return undefined;
    return open().then((source) =>
      work(source && toShare(source.read(0, source.size)), document instanceof LongText && document.hasGrown()),
    );
  };
  const ready = (uri: string): void => {
    const document = workspace.document(uri);
    if (document instanceof LongText) void readyForKeys(document);
  };
  return {
    elsewhere: (task, open, first) =>
      by(task, open, (bytes, grows) =>
        threads.work(
          bytes ? { ...task, shows: true } : task,
          bytes,
          (findings) => {
            first?.(findings);
            ready(task.uri);
          },
          grows,
        ),
      ),
    askElsewhere: (task, question, open, keeps) =>
      by(task, open, (bytes, grows) => threads.ask(task, question, keeps, bytes, grows).finally(() => ready(task.uri))),
    tallyElsewhere: (list) => (list.reduce((sum, { blocks }) => sum + blocks.count, 0) < longTally ? undefined : threads.tally(list)),
  };
};

/** For another thread: nothing is copied that can be read by both. */
const toShare = (bytes: Uint8Array): Uint8Array => (bytes.buffer instanceof SharedArrayBuffer ? bytes : bytes.slice());

let isReadyForKeys = false;
/**
 * While another thread judges a long text, its lines are found here, and once what follows a key is compiled: the first key would have to
 * wait for both.
 */
async function readyForKeys(document: LongText): Promise<void> {
  // What the reader noticed is told first.
  for (let turn = 0; turn < TURNS_TO_TELL; turn++) await breathe();
  const last = document.lineCount - 1;
  if (isReadyForKeys) return;
  isReadyForKeys = true;
  for (let key = 0; key < KEYS; key++) {
    await breathe();
    followEdits(
      [],
      { edits: [{ range: range(last, 0, last, 0), text: '' }], lines: (from, to) => linesOf(document, from, to) },
      EMPTY_VEHICLE,
    );
  }
}
/** So many keys, and it is compiled. */
const KEYS = 4;
/** An answer that is known is written within so many turns of the event loop. */
const TURNS_TO_TELL = 4;

/** Neither a disk nor a client that reads for us: what is open is all there is. */
const noFiles = (folders: readonly string[]): Workspace => ({
  folders,
  open: async () => undefined,
  stamp: async () => undefined,
  find: async () => [],
  resolve: async () => undefined,
});

function foldersOf({ workspaceFolders, rootUri }: InitializeParams): string[] {
  if (workspaceFolders) return workspaceFolders.map(({ uri }) => normalUri(uri));
  return rootUri ? [normalUri(rootUri)] : [];
}

const serverCapabilities = (client: ClientCapabilities): ServerCapabilities => ({
  // Places are counted in UTF-16 throughout, which every client must be able to do.
  positionEncoding: PositionEncodingKind.UTF16,
  textDocumentSync: { openClose: true, change: TextDocumentSyncKind.Incremental, save: false },
  workspace: { workspaceFolders: { supported: true, changeNotifications: true }, fileOperations: { willRename: { filters: RENAMED } } },
  ...(clientPulls(client)
    ? { diagnosticProvider: { identifier: 'leanspot', interFileDependencies: true, workspaceDiagnostics: true } }
    : {}),
  hoverProvider: true,
  documentSymbolProvider: true,
  foldingRangeProvider: true,
  completionProvider: { triggerCharacters: ['"', '/'] },
  documentLinkProvider: {},
  selectionRangeProvider: true,
  documentHighlightProvider: true,
  codeLensProvider: {},
  definitionProvider: true,
  referencesProvider: true,
  inlayHintProvider: true,
  documentFormattingProvider: true,
  workspaceSymbolProvider: true,
  semanticTokensProvider: semanticTokensOptions,
  codeActionProvider: { codeActionKinds: [CodeActionKind.QuickFix] },
});
