// Starts the language server on standard input and output, over real files.

import { pathOf, uriOf } from '../disk/fileUri.js';
import { findAbove } from '../disk/findAbove.js';
import type { SessionThreads } from '../disk/sessionThreads.js';
import { VERSION } from '../protocol/version.js';
import { longMessages } from './longMessages.js';
import { startServer } from './server.js';

/** Where the findings' pages lie in the package, seen from the program or from any folder above it. */
const PAGES = 'server/docs/findings';

/** The next part of a message comes sooner than this, ms: the client has it ready and waits for the pipe. */
const NEXT_PART_MS = 5;

export async function serveStdio(threads: SessionThreads): Promise<void> {
  const { createConnection, ProposedFeatures, StreamMessageReader, StreamMessageWriter } = await import('vscode-languageserver/node'),
    { diskWorkspace } = await import('../disk/diskWorkspace.js'),
    { keepFolder } = await import('../disk/keepFolder.js');
  const connection = createConnection(
    ProposedFeatures.all,
    new StreamMessageReader(process.stdin, { contentTypeDecoder: longMessages() }),
    new StreamMessageWriter(process.stdout),
  );
  let isToEnd = false;
  // Given a stream and not a reader, the protocol's library does this by itself.
  for (const gone of ['end', 'close']) process.stdin.on(gone, () => process.exit(isToEnd ? 0 : 1));
  let partCameMs = -Infinity;
  // Standard output belongs to the protocol.
  console.log = console.info = (...parts: unknown[]) => connection.console.log(parts.join(' '));
  const pages = findAbove(process.argv[1] ?? '.', PAGES);
  startServer(connection, {
    createDisk: diskWorkspace,
    threads,
    docsBase: pages === undefined ? undefined : `${uriOf(pages)}/`,
    isArriving: () => performance.now() - partCameMs < NEXT_PART_MS,
    onShutdown: () => {
      isToEnd = true;
    },
    createKeep: (folderUri) => {
      const folder = pathOf(folderUri);
      return folder === undefined ? undefined : keepFolder(folder, VERSION);
    },
  });
  // Behind the protocol's own reader: whoever listens first begins the flow.
  process.stdin.on('data', () => {
    partCameMs = performance.now();
  });
}
