// A language client for tests: speaks to a server of this process over streams and waits for events, never for time.

import { PassThrough, type Readable, type Writable } from 'node:stream';
import {
  createProtocolConnection,
  StreamMessageReader,
  StreamMessageWriter,
  type ClientCapabilities,
  type Diagnostic,
  type InitializeResult,
  type MessageConnection,
  type ProtocolConnection,
  type PublishDiagnosticsParams,
} from 'vscode-languageserver-protocol/node';
import { createConnection, ProposedFeatures } from 'vscode-languageserver/node';
import { diskWorkspace, uriOf } from '../../server/src/disk/diskWorkspace.js';
import type { SessionThreads } from '../../server/src/disk/sessionThreads.js';
import { startServer } from '../../server/src/lsp/server.js';

export interface TestClient {
  readonly connection: ProtocolConnection;
  readonly initialized: InitializeResult;
  readonly published: PublishDiagnosticsParams[];
  open(path: string, text: string, languageId?: string): string;
  /** The next publication for the file that `wanted` accepts, or the one already there. */
  diagnostics(uri: string, wanted?: (diagnostics: readonly Diagnostic[]) => boolean): Promise<readonly Diagnostic[]>;
  /** The first notification or request of this method, past or to come. */
  heard(method: string): Promise<unknown>;
  close(): Promise<void>;
}

export async function startClient(
  folder: string | undefined,
  capabilities: ClientCapabilities,
  options: {
    locale?: string;
    settings?: object;
    initializationOptions?: object;
    threads?: SessionThreads;
    longText?: number;
    longTally?: number;
  } = {},
): Promise<TestClient> {
  const [up, down] = [new PassThrough(), new PassThrough()];
  startServer(createConnection(ProposedFeatures.all, new StreamMessageReader(up), new StreamMessageWriter(down)), {
    createDisk: diskWorkspace,
    docsBase: 'file:///docs/',
    ...(options.threads ? { threads: options.threads } : {}),
    ...(options.longText === undefined ? {} : { longText: options.longText }),
    ...(options.longTally === undefined ? {} : { longTally: options.longTally }),
  });
  return talkTo(down, up, folder, capabilities, options);
}

/** As `startClient`, to a server that reads and writes these streams, for example a process of its own. */
export async function talkTo(
  from: Readable,
  to: Writable,
  folder: string | undefined,
  capabilities: ClientCapabilities,
  options: { locale?: string; settings?: object; initializationOptions?: object } = {},
): Promise<TestClient> {
  const connection = createProtocolConnection(new StreamMessageReader(from), new StreamMessageWriter(to));
  const published: PublishDiagnosticsParams[] = [];
  const heard = new Map<string, unknown>();
  const waiting = new Set<() => void>();
  const wake = (): void => {
    for (const each of [...waiting]) each();
  };
  const until = <T>(look: () => T | undefined): Promise<T> =>
    new Promise((resolve) => {
      const check = (): void => {
        const found = look();
        if (found === undefined) return;
        waiting.delete(check);
        resolve(found);
      };
      waiting.add(check);
      check();
    });
  // The typed face hides the handlers that hear everything.
  const anything = connection as unknown as MessageConnection;
  anything.onNotification((method, params) => {
    if (method === 'textDocument/publishDiagnostics') published.push(params as unknown as PublishDiagnosticsParams);
    heard.set(method, params);
    wake();
  });
  anything.onRequest((method, params) => {
    heard.set(method, params);
    wake();
    return method === 'workspace/configuration'
      ? (params as unknown as { items: unknown[] }).items.map(() => options.settings ?? null)
      : null;
  });
  connection.listen();
  const initialized = await connection.sendRequest<InitializeResult>('initialize', {
    processId: null,
    rootUri: null,
    capabilities,
    ...(options.locale === undefined ? {} : { locale: options.locale }),
    workspaceFolders: folder === undefined ? null : [{ uri: uriOf(folder), name: 'test' }],
    initializationOptions: options.initializationOptions,
  });
  await connection.sendNotification('initialized', {});
  return {
    connection,
    initialized,
    published,
    open(path, text, languageId = 'session-log') {
      const uri = uriOf(path);
      void connection.sendNotification('textDocument/didOpen', { textDocument: { uri, languageId, version: 1, text } });
      return uri;
    },
    diagnostics: (uri, wanted = () => true) =>
      until(() => {
        const last = published.filter((each) => each.uri === uri).at(-1)?.diagnostics;
        return last && wanted(last) ? last : undefined;
      }),
    heard: (method) => until(() => (heard.has(method) ? (heard.get(method) ?? null) : undefined)),
    async close() {
      await connection.sendRequest('shutdown');
      connection.dispose();
    },
  };
}
