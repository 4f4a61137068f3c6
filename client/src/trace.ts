// The trace's commands, panel and custom editor, registered at activation; what they do is loaded when it is first wanted.

import { commands, window, type Disposable, type ExtensionContext, type Uri, type WebviewPanel } from 'vscode';
import type { BaseLanguageClient } from 'vscode-languageclient';
import { done } from './firstSteps.js';
import type { CellPlace, TracePanels } from './tracePanel.js';
import { PANEL_TYPES } from './viewPage.js';

const EDITOR_TYPE = 'leanspot.trace';

export function registerTrace(context: ExtensionContext, client: BaseLanguageClient): Disposable[] {
  let panels: Promise<TracePanels> | undefined;
  const loaded = (): Promise<TracePanels> => (panels ??= import('./tracePanel.js').then(({ createTracePanels }) => {
    const made = createTracePanels(context.extensionUri, context.globalState, client);
    context.subscriptions.push(made);
    return made;
  }));
  return [
    commands.registerCommand('leanspot.openTrace', async (uri?: Uri, line?: unknown) => {
      await (await loaded()).open(uri, typeof line === 'number' ? line : undefined);
      done('trace');
    }),
    commands.registerCommand('leanspot.showCellInTrace', async (place?: CellPlace) => (await loaded()).showCell(isPlace(place) ? place : undefined)),
    window.registerWebviewPanelSerializer(PANEL_TYPES.trace, { deserializeWebviewPanel: async (panel: WebviewPanel, state: unknown) => (await loaded()).restore(panel, state) }),
    window.registerCustomEditorProvider(EDITOR_TYPE, {
      openCustomDocument: (uri) => ({ uri, dispose: () => undefined }),
      resolveCustomEditor: async ({ uri }, panel) => (await import('./traceEditor.js')).showIn(await loaded(), uri, panel),
    }, { supportsMultipleEditorsPerDocument: true }),
  ];
}

/** A menu gives the file instead. */
const isPlace = (value: CellPlace | undefined): boolean => typeof value?.line === 'number' && typeof value.character === 'number';
