// The trace's commands, panel and custom editor, registered at activation; its panels are made when one is first wanted.

import { commands, window, type Disposable, type ExtensionContext, type Uri, type WebviewPanel } from 'vscode';
import type { BaseLanguageClient } from 'vscode-languageclient';
import { done } from './firstSteps.js';
import { showIn } from './traceEditor.js';
import { createTracePanels, type CellPlace, type TracePanels } from './tracePanel.js';
import { PANEL_TYPES } from './viewPage.js';

const EDITOR_TYPE = 'leanspot.trace';

export function registerTrace(context: ExtensionContext, client: BaseLanguageClient): Disposable[] {
  let made: TracePanels | undefined;
  const panels = (): TracePanels => {
    if (!made) context.subscriptions.push((made = createTracePanels(context.extensionUri, context.globalState, client)));
    return made;
  };
  return [
    commands.registerCommand('leanspot.openTrace', async (uri?: Uri, line?: unknown) => {
      await panels().open(uri, typeof line === 'number' ? line : undefined);
      done('trace');
    }),
    commands.registerCommand('leanspot.showCellInTrace', async (place?: CellPlace) =>
      panels().showCell(isPlace(place) ? place : undefined),
    ),
    window.registerWebviewPanelSerializer(PANEL_TYPES.trace, {
      deserializeWebviewPanel: async (panel: WebviewPanel, state: unknown) => {
        panels().restore(panel, state);
      },
    }),
    window.registerCustomEditorProvider(
      EDITOR_TYPE,
      {
        openCustomDocument: (uri) => ({ uri, dispose: () => undefined }),
        resolveCustomEditor: ({ uri }, panel) => {
          showIn(panels(), uri, panel);
        },
      },
      { supportsMultipleEditorsPerDocument: true },
    ),
  ];
}

/** A menu gives the file instead. */
const isPlace = (value: CellPlace | undefined): boolean => typeof value?.line === 'number' && typeof value.character === 'number';
