// From a view to the text: a file shown with the cursor on a place, in another group than the view's.

import { commands, ViewColumn, window, type Uri } from 'vscode';

/** Opens a file in the text editor with the cursor on a place, beside the view that asked. */
export async function openPlace(uri: Uri, line: number, character: number, endCharacter = character): Promise<void> {
  const group = window.tabGroups.all.find(({ tabs }) =>
    tabs.some(({ input }) => (input as { uri?: Uri } | undefined)?.uri?.toString() === uri.toString()),
  );
  const other = window.tabGroups.all.find(({ isActive }) => !isActive);
  await commands.executeCommand('vscode.openWith', uri, 'default', {
    viewColumn: group?.viewColumn ?? other?.viewColumn ?? ViewColumn.Beside,
    selection: { start: { line, character }, end: { line, character: endCharacter } },
  });
}
