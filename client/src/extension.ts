// Where the extension begins on Node: so little that it keeps no editor waiting. All the rest is a program of its own beside this one,
// loaded in a turn of its own: whoever needs it waits for `activate`, as the editor does before a command of ours. In a browser that
// program is the beginning.

import type { ExtensionContext } from 'vscode';
import type { Api } from './client.js';

const program = async () => import('./client.js');
let started: Promise<Api> | undefined;

/** Rejects where the program cannot be loaded or does not start, which is told in a line. */
export async function activate(context: ExtensionContext): Promise<Api> {
  started = new Promise((loaded) => {
    setImmediate(loaded);
  }).then(async () => (await program()).activate(context));
  try {
    return await started;
  } catch (error) {
    // Not before: the editor makes its interface for each extension that asks for it.
    const { l10n, window } = await import('vscode');
    void window.showErrorMessage(
      l10n.t('Leanspot could not be loaded: {0}', error instanceof Error ? error.message.split('\n', 1)[0] : String(error)),
    );
    throw error;
  }
}

/** What is still being loaded is waited for, so that nothing of it is left behind. */
export async function deactivate(): Promise<void> {
  if (await started?.catch(() => undefined)) await (await program()).deactivate();
}
