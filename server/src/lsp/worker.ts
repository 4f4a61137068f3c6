// Starts the language server in a browser's worker: messages through its port, files through the editor.

import './browserBuffer.js';
import { BrowserMessageReader, BrowserMessageWriter, createConnection } from 'vscode-languageserver/browser';
import { startServer } from './server.js';

export function serveWorker(): void {
  const port = globalThis as unknown as ConstructorParameters<typeof BrowserMessageReader>[0];
  startServer(createConnection(new BrowserMessageReader(port), new BrowserMessageWriter(port)), { docsBase: undefined });
}
