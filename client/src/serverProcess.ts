// The language server as a process of its own: where the editor runs on Node.

import type { ExtensionContext } from 'vscode';
import type { LanguageClient, LanguageClientOptions } from 'vscode-languageclient/node';

export async function createProcess(context: ExtensionContext, options: LanguageClientOptions): Promise<LanguageClient> {
  const { LanguageClient, TransportKind } = await import('vscode-languageclient/node'),
    module = context.asAbsolutePath('dist/server.js');
  return new LanguageClient(
    'leanspot',
    'Leanspot',
    {
      run: { module, transport: TransportKind.stdio },
      debug: { module, transport: TransportKind.stdio, options: { execArgv: ['--nolazy', '--inspect=6009'] } },
    },
    options,
  );
}
