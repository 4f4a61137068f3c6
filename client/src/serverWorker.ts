// The same language server in a worker: where the editor runs in a browser and there are no processes.

import { Uri, type ExtensionContext } from 'vscode';
import type { BrowserMessageReader, LanguageClient, LanguageClientOptions } from 'vscode-languageclient/browser';

type WorkerThread = ConstructorParameters<typeof BrowserMessageReader>[0];
const { Worker } = globalThis as unknown as { Worker: new (address: string, options: { name: string }) => WorkerThread };

/**
 * A new worker for each start: one that was stopped is gone. The library cannot tell the editor's workers from other objects, so the ends
 * are made here.
 */
export async function createWorker(context: ExtensionContext, options: LanguageClientOptions): Promise<LanguageClient> {
  const library = await import('vscode-languageclient/browser');
  return new library.LanguageClient(
    'leanspot',
    'Leanspot',
    async () => {
      const worker = new Worker(Uri.joinPath(context.extensionUri, 'dist/server.js').toString(true), { name: 'Leanspot' });
      return { reader: new library.BrowserMessageReader(worker), writer: new library.BrowserMessageWriter(worker) };
    },
    options,
  );
}
