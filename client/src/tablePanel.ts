// The tables' pictures that are open, beside their texts.

import { l10n, window, type Event, type Uri } from 'vscode';
import type { BaseLanguageClient } from 'vscode-languageclient';
import type { StatusParams } from '../../server/src/protocol/messages.js';
import { TableTalk } from './tableTalk.js';
import { createViewPanels, type ViewPanels } from './viewPanels.js';

export interface TablePanels extends ViewPanels<TableTalk> {
  /** Of the table given, else of the active editor's. */
  open(uri?: Uri): void;
}

export function createTablePanels(extensionUri: Uri, client: BaseLanguageClient, onStatus: Event<StatusParams>): TablePanels {
  const panels = createViewPanels(extensionUri, {
    view: 'table',
    preserveFocus: false,
    title: (name) => l10n.t('Picture: {0}', name),
    talk: (uri, webview) => new TableTalk(uri, webview, client, onStatus),
  });
  return {
    ...panels,
    open(given) {
      const uri = given ?? window.activeTextEditor?.document.uri;
      if (uri) panels.show(uri);
    },
  };
}
