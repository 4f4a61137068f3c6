// The language server as a process of its own: where the editor runs on Node.

import type { ExtensionContext } from 'vscode';
import { LanguageClient, TransportKind, type LanguageClientOptions } from 'vscode-languageclient/node';

export function createClient(context: ExtensionContext, options: LanguageClientOptions): LanguageClient {
  const module = context.asAbsolutePath('dist/server.js');
  return new LanguageClient('leanspot', 'Leanspot', {
    run: { module, transport: TransportKind.stdio },
    debug: { module, transport: TransportKind.stdio, options: { execArgv: ['--nolazy', '--inspect=6009'] } },
  }, options);
}
