// The tables' pictures that are open: panels beside the text, restored after a reload; one line of talk for each.

import { l10n, Uri, ViewColumn, window, type Disposable, type Event, type WebviewPanel } from 'vscode';
import type { BaseLanguageClient } from 'vscode-languageclient';
import type { StatusParams } from '../../server/src/protocol/messages.js';
import { TableTalk } from './tableTalk.js';
import { PANEL_TYPES, pageOf, webviewOptions } from './viewPage.js';

export interface TablePanels extends Disposable {
  /** Beside the text of the table: of the one given, else of the active editor's. */
  open(uri?: Uri): void;
  restore(panel: WebviewPanel, state: unknown): void;
}

export function createTablePanels(extensionUri: Uri, client: BaseLanguageClient, onStatus: Event<StatusParams>): TablePanels {
  const open = new Map<WebviewPanel, TableTalk>();

  const attach = (uri: Uri, panel: WebviewPanel): void => {
    panel.webview.options = webviewOptions(extensionUri);
    const talk = new TableTalk(uri, panel.webview, client, onStatus);
    open.set(panel, talk);
    panel.onDidDispose(() => {
      open.delete(panel);
      talk.dispose();
    });
    panel.webview.html = pageOf(panel.webview, extensionUri, 'table');
  };

  return {
    open(given) {
      const uri = given ?? window.activeTextEditor?.document.uri;
      if (!uri) return;
      for (const [panel, talk] of open) if (talk.uri.toString() === uri.toString()) return panel.reveal(undefined, false);
      const title = l10n.t('Picture: {0}', uri.path.slice(uri.path.lastIndexOf('/') + 1));
      attach(uri, window.createWebviewPanel(PANEL_TYPES.table, title, { viewColumn: ViewColumn.Beside, preserveFocus: false }, webviewOptions(extensionUri)));
    },

    restore(panel, state) {
      const uri = (state as { uri?: unknown } | undefined)?.uri;
      if (typeof uri === 'string') attach(Uri.parse(uri), panel);
      else panel.dispose();
    },

    dispose() {
      for (const [panel] of open) panel.dispose();
    },
  };
}
