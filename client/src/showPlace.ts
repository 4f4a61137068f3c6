// From a call-out to the row that it speaks of.

import { Range, Uri, window } from 'vscode';
import type { PlaceParams } from '../../server/src/protocol/messages.js';

/** The line is selected in the editor of the file. */
export async function showPlace({ uri, line }: PlaceParams): Promise<void> {
  const editor = await window.showTextDocument(Uri.parse(uri), { selection: new Range(line, 0, line, 0) });
  editor.revealRange(editor.selection);
}
