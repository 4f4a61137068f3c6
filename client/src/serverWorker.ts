// The same language server in a worker: where the editor runs in a browser and there are no processes.

import { Uri, type ExtensionContext } from 'vscode';
import { BrowserMessageReader, BrowserMessageWriter, LanguageClient, type LanguageClientOptions } from 'vscode-languageclient/browser';

type WorkerThread = ConstructorParameters<typeof BrowserMessageReader>[0];
const { Worker } = globalThis as unknown as { Worker: new (address: string, options: { name: string }) => WorkerThread };

/** A new worker for each start: one that was stopped is gone. The library cannot tell the editor's workers from other objects, so the ends are made here. */
export const createClient = (context: ExtensionContext, options: LanguageClientOptions): LanguageClient => new LanguageClient('leanspot', 'Leanspot', async () => {
  const worker = new Worker(Uri.joinPath(context.extensionUri, 'dist/server.js').toString(true), { name: 'Leanspot' });
  return { reader: new BrowserMessageReader(worker), writer: new BrowserMessageWriter(worker) };
}, options);
