// A session as a picture in place of its text: for files too large for the text editor, which the server reads from disk by itself.

import type { Uri, WebviewPanel } from 'vscode';
import type { TracePanels } from './tracePanel.js';

/** Read-only: nothing of the file passes through the editor. */
export const showIn = (panels: TracePanels, uri: Uri, panel: WebviewPanel): void => {
  panels.attach(uri, panel);
};
