// The table's picture: its command and panel, registered at activation; its panels are made when one is first wanted.

import { commands, window, type Disposable, type Event, type ExtensionContext, type Uri, type WebviewPanel } from 'vscode';
import type { BaseLanguageClient } from 'vscode-languageclient';
import type { StatusParams } from '../../server/src/protocol/messages.js';
import { createTablePanels, type TablePanels } from './tablePanel.js';
import { PANEL_TYPES } from './viewPage.js';

export function registerTable(context: ExtensionContext, client: BaseLanguageClient, onStatus: Event<StatusParams>): Disposable[] {
  let made: TablePanels | undefined;
  const panels = (): TablePanels => {
    if (!made) context.subscriptions.push((made = createTablePanels(context.extensionUri, client, onStatus)));
    return made;
  };
  return [
    commands.registerCommand('leanspot.openTablePicture', async (uri?: Uri) => panels().open(uri)),
    window.registerWebviewPanelSerializer(PANEL_TYPES.table, {
      deserializeWebviewPanel: async (panel: WebviewPanel, state: unknown) => {
        panels().restore(panel, state);
      },
    }),
  ];
}
