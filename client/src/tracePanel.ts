// The trace views that are open: beside their texts, and as custom editors.

import { l10n, Uri, window, workspace, type Memento } from 'vscode';
import type { BaseLanguageClient } from 'vscode-languageclient';
import { TRACE, type VisitsParams, type VisitsResult } from '../../server/src/protocol/trace.js';
import { TraceTalk } from './traceTalk.js';
import { createViewPanels, type ViewPanels } from './viewPanels.js';

export interface TracePanels extends ViewPanels<TraceTalk> {
  /**
   * Beside the text of the session: of the one given, else of the active editor's. The cursor on a line: the one given, else the text's
   * own.
   */
  open(uri?: Uri, line?: number): Promise<TraceTalk | undefined>;
  /** Every moment of a table's cell (else of the one under the cursor) in the trace of a session that has been there. */
  showCell(place?: CellPlace): Promise<void>;
}

/** A place in a table's text, from 0. */
export interface CellPlace {
  readonly uri: string;
  readonly line: number;
  readonly character: number;
}

export function createTracePanels(extensionUri: Uri, memory: Memento, client: BaseLanguageClient): TracePanels {
  const panels = createViewPanels(extensionUri, {
    view: 'trace',
    preserveFocus: true,
    title: (name) => l10n.t('Trace: {0}', name),
    talk: (uri, webview) => new TraceTalk(uri, webview, memory, client),
  });

  return {
    ...panels,

    async open(given, atLine) {
      const uri = given ?? activeFile();
      if (!uri) return undefined;
      const talk = panels.show(uri);
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
        void window.showInformationMessage(
          found
            ? l10n.t('No session has a reading that is evidence on this {0}.', found.cell)
            : l10n.t('Put the cursor on a cell of the table first.'),
        );
        return;
      }
      const chosen =
        found.sessions.length === 1
          ? found.sessions[0]!.uri
          : (
              await window.showQuickPick(
                found.sessions.map(({ uri: session, samples }) => ({
                  label: workspace.asRelativePath(Uri.parse(session)),
                  description: l10n.t('{0} of the most telling moments', samples),
                  session,
                })),
                { title: l10n.t('Show {0} in which session?', found.cell) },
              )
            )?.session;
      if (chosen === undefined) return;
      await panels.show(Uri.parse(chosen)).visits(ask(chosen));
    },
  };
}

function placeOfCursor(): CellPlace | undefined {
  const editor = window.activeTextEditor;
  if (!editor) return undefined;
  const {
    document: { uri },
    selection: {
      active: { line, character },
    },
  } = editor;
  return { uri: uri.toString(), line, character };
}

/** The file of the active tab: also one that the text editor could not open. */
function activeFile(): Uri | undefined {
  const input = window.tabGroups.activeTabGroup.activeTab?.input as { uri?: Uri } | undefined;
  return window.activeTextEditor?.document.uri ?? input?.uri;
}
