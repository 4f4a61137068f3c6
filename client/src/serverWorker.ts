// The same language server in a worker: where the editor runs in a browser and there are no processes.

import { Uri, type ExtensionContext } from 'vscode';
import { LanguageClient, type LanguageClientOptions } from 'vscode-languageclient/browser';

type WorkerThread = Extract<ConstructorParameters<typeof LanguageClient>[2], { postMessage: unknown }>;
const { Worker } = globalThis as unknown as { Worker: new (address: string, options: { name: string }) => WorkerThread };

/** A new worker for each start: one that was stopped is gone. */
export const createClient = (context: ExtensionContext, options: LanguageClientOptions): LanguageClient => new LanguageClient('leanspot', 'Leanspot', async () =>
  new Worker(Uri.joinPath(context.extensionUri, 'dist/leanspot.js').toString(true), { name: 'Leanspot' }), options);
