// The trace views that are open: panels beside the text, restored after a reload, and custom editors; one line of talk for each.

import { l10n, Uri, ViewColumn, window, workspace, type Disposable, type Memento, type WebviewPanel } from 'vscode';
import type { BaseLanguageClient } from 'vscode-languageclient';
import { TRACE, type VisitsParams, type VisitsResult } from '../../server/src/protocol/trace.js';
import { TraceTalk } from './traceTalk.js';
import { PANEL_TYPES, pageOf, webviewOptions } from './viewPage.js';

export interface TracePanels extends Disposable {
  /** Beside the text of the session: of the one given, else of the active editor's. The cursor on a line: the one given, else the text's own. */
  open(uri?: Uri, line?: number): Promise<TraceTalk | undefined>;
  /** Every moment of a table's cell (else of the one under the cursor) in the trace of a session that has been there. */
  showCell(place?: CellPlace): Promise<void>;
  restore(panel: WebviewPanel, state: unknown): void;
  attach(uri: Uri, panel: WebviewPanel): TraceTalk;
}

/** A place in a table's text, from 0. */
export interface CellPlace { readonly uri: string; readonly line: number; readonly character: number }

export function createTracePanels(extensionUri: Uri, memory: Memento, client: BaseLanguageClient): TracePanels {
  const open = new Map<WebviewPanel, TraceTalk>();
  const titleOf = (uri: Uri): string => l10n.t('Trace: {0}', uri.path.slice(uri.path.lastIndexOf('/') + 1));

  const attach: TracePanels['attach'] = (uri, panel) => {
    panel.webview.options = webviewOptions(extensionUri);
    const talk = new TraceTalk(uri, panel.webview, memory, client);
    open.set(panel, talk);
    panel.onDidDispose(() => {
      open.delete(panel);
      talk.dispose();
    });
    panel.webview.html = pageOf(panel.webview, extensionUri, 'trace');
    return talk;
  };

  const show = (uri: Uri): TraceTalk => {
    for (const [panel, talk] of open) {
      if (talk.uri.toString() !== uri.toString()) continue;
      panel.reveal(undefined, true);
      return talk;
    }
    const panel = window.createWebviewPanel(PANEL_TYPES.trace, titleOf(uri), { viewColumn: ViewColumn.Beside, preserveFocus: false }, webviewOptions(extensionUri));
    return attach(uri, panel);
  };

  return {
    async open(given, atLine) {
      const uri = given ?? activeFile();
      if (!uri) return undefined;
      const talk = show(uri);
      const editor = window.visibleTextEditors.find(({ document }) => document.uri.toString() === uri.toString());
      const line = atLine ?? editor?.selection.active.line;
      if (line !== undefined) await talk.follow(line);
      return talk;
    },

    async showCell(place = placeOfCursor()) {
      if (!place) return;
      const { uri, line, character } = place;
      const ask = (session?: string): Promise<VisitsResult | null> =>
        client.sendRequest<VisitsResult | null>(TRACE.visits, { uri, line, character, session } satisfies VisitsParams);
      const found = await ask();
      if (!found || found.sessions.length === 0) {
        void window.showInformationMessage(found ? l10n.t('No session has a reading that is evidence on this {0}.', found.cell) : l10n.t('Put the cursor on a cell of the table first.'));
        return;
      }
      const chosen = found.sessions.length === 1 ? found.sessions[0]!.uri : (await window.showQuickPick(
        found.sessions.map(({ uri: session, samples }) => ({ label: workspace.asRelativePath(Uri.parse(session)), description: l10n.t('{0} of the most telling moments', samples), session })),
        { title: l10n.t('Show {0} in which session?', found.cell) },
      ))?.session;
      if (chosen === undefined) return;
      const visits = await ask(chosen);
      if (visits) show(Uri.parse(chosen)).visits(visits);
    },

    restore(panel, state) {
      const uri = (state as { uri?: unknown } | undefined)?.uri;
      if (typeof uri === 'string') attach(Uri.parse(uri), panel);
      else panel.dispose();
    },

    attach,

    dispose() {
      for (const [panel] of open) panel.dispose();
    },
  };
}

function placeOfCursor(): CellPlace | undefined {
  const editor = window.activeTextEditor;
  if (!editor) return undefined;
  const { document: { uri }, selection: { active: { line, character } } } = editor;
  return { uri: uri.toString(), line, character };
}

/** The file of the active tab: also one that the text editor could not open. */
function activeFile(): Uri | undefined {
  const input = window.tabGroups.activeTabGroup.activeTab?.input as { uri?: Uri } | undefined;
  return window.activeTextEditor?.document.uri ?? input?.uri;
}
