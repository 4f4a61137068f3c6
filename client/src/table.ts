// The table's picture: its command and panel, registered at activation; what they do is loaded when it is first wanted.

import { commands, window, type Disposable, type Event, type ExtensionContext, type Uri, type WebviewPanel } from 'vscode';
import type { BaseLanguageClient } from 'vscode-languageclient';
import type { StatusParams } from '../../server/src/protocol/messages.js';
import type { TablePanels } from './tablePanel.js';
import { PANEL_TYPES } from './viewPage.js';

export function registerTable(context: ExtensionContext, client: BaseLanguageClient, onStatus: Event<StatusParams>): Disposable[] {
  let panels: Promise<TablePanels> | undefined;
  const loaded = (): Promise<TablePanels> => (panels ??= import('./tablePanel.js').then(({ createTablePanels }) => {
    const made = createTablePanels(context.extensionUri, client, onStatus);
    context.subscriptions.push(made);
    return made;
  }));
  return [
    commands.registerCommand('leanspot.openTablePicture', async (uri?: Uri) => (await loaded()).open(uri)),
    window.registerWebviewPanelSerializer(PANEL_TYPES.table, { deserializeWebviewPanel: async (panel: WebviewPanel, state: unknown) => (await loaded()).restore(panel, state) }),
  ];
}
