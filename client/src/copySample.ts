// The sample car that the package carries, copied to where the user says: nothing there is overwritten, and it is opened only if the user
// wants it.

import { commands, l10n, Uri, window, workspace, type FileType, type Memento } from 'vscode';
import { done, openFirstSteps } from './firstSteps.js';

const NAME = 'bramble-coupe';
/** By name, for a package that is read over the network lists no folder. */
const FILES = ['vehicle.json', 'README.md', 'sessions/dyno.session.csv', 'tables/target.table.csv', 'tables/ve.table.csv'];
/** The folder in which the first steps go on. */
const GOES_ON = 'firstSteps.goOnIn';

/** Into the folder given, else into one that the user picks; the copy's folder, undefined where the user called it off. */
export async function copySample(extensionUri: Uri, memory: Memento, into?: Uri): Promise<Uri | undefined> {
  const parent =
    into ??
    (
      await window.showOpenDialog({
        canSelectFiles: false,
        canSelectFolders: true,
        openLabel: l10n.t('Copy Here'),
        title: l10n.t('Copy the sample car into which folder?'),
      })
    )?.[0];
  if (!parent) return undefined;
  const folder = await freeFolder(parent);
  try {
    for (const file of FILES)
      await workspace.fs.writeFile(
        Uri.joinPath(folder, file),
        await workspace.fs.readFile(Uri.joinPath(extensionUri, 'client', 'sample', NAME, file)),
      );
  } catch (error) {
    void window.showErrorMessage(l10n.t('The sample car could not be copied: {0}', error instanceof Error ? error.message : String(error)));
    return undefined;
  }
  done('sample');
  void offerToOpen(folder, memory);
  return folder;
}

/** A folder that is not there yet: the car's name, else with a number behind it. */
async function freeFolder(parent: Uri): Promise<Uri> {
  for (let copy = 1; ; copy++) {
    const folder = Uri.joinPath(parent, copy === 1 ? NAME : `${NAME}-${copy}`);
    if ((await typeOf(folder)) === undefined) return folder;
  }
}

const typeOf = (uri: Uri): Thenable<FileType | undefined> =>
  workspace.fs.stat(uri).then(
    ({ type }) => type,
    () => undefined,
  );

async function offerToOpen(folder: Uri, memory: Memento): Promise<void> {
  const name = folder.path.slice(folder.path.lastIndexOf('/') + 1);
  if (workspace.getWorkspaceFolder(folder))
    return void window.showInformationMessage(l10n.t('The sample car is in {0}.', workspace.asRelativePath(folder)));
  const open = l10n.t('Open the Folder');
  if ((await window.showInformationMessage(l10n.t('The sample car is in {0}.', name), open)) !== open) return;
  await memory.update(GOES_ON, folder.toString());
  await commands.executeCommand('vscode.openFolder', folder, { forceNewWindow: workspace.workspaceFolders !== undefined });
}

/** In the folder of a sample car that was just copied and opened: the first steps again, where they were left. */
export async function goOnWithFirstSteps(memory: Memento): Promise<void> {
  const folder = memory.get<string>(GOES_ON);
  if (folder === undefined || !workspace.workspaceFolders?.some(({ uri }) => uri.toString() === folder)) return;
  await memory.update(GOES_ON, undefined);
  await openFirstSteps();
  // It listens once it is open; what was done in the other window it may not have heard.
  done('sample');
}
