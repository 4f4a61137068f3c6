// Starts the language server in a browser's worker: messages through its port, files through the editor.

import { startServer } from './server.js';

export async function serveWorker(): Promise<void> {
  const { BrowserMessageReader, BrowserMessageWriter, createConnection } = await import('vscode-languageserver/browser');
  const port = globalThis as unknown as ConstructorParameters<typeof BrowserMessageReader>[0];
  startServer(createConnection(new BrowserMessageReader(port), new BrowserMessageWriter(port)), { docsBase: undefined });
}
