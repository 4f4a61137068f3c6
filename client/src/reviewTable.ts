// What changed in a table since the last commit or an earlier state under history/, from the explorer, the table itself or the editor's own
// comparison of it: as a page to read.

import { commands, EventEmitter, extensions, l10n, RelativePattern, Uri, window, workspace, type Disposable } from 'vscode';
import type { BaseLanguageClient } from 'vscode-languageclient';
import { REVIEW, type ReviewAnswer, type ReviewParams } from '../../server/src/protocol/messages.js';

const SCHEME = 'leanspot-review';

/** As much of the built-in source control extension as is used: its published interface, version 1. */
interface Git {
  getAPI(version: 1): { getRepository(uri: Uri): { show(ref: string, path: string): Promise<string> } | null };
}

interface Earlier {
  readonly label: string;
  readonly name: string;
  read(): Promise<string>;
}

export function registerReview(client: BaseLanguageClient): Disposable[] {
  const pages = new Map<string, string>();
  const changed = new EventEmitter<Uri>();
  const show = async (uri: Uri, markdown: string): Promise<void> => {
    const page = Uri.from({ scheme: SCHEME, path: `${uri.path}.review.md` });
    pages.set(page.toString(), markdown);
    changed.fire(page);
    await workspace.openTextDocument(page);
    await commands.executeCommand('markdown.showPreview', page).then(undefined, () => window.showTextDocument(page));
  };
  return [
    changed,
    workspace.registerTextDocumentContentProvider(SCHEME, {
      onDidChange: changed.event,
      provideTextDocumentContent: (page) => pages.get(page.toString()) ?? '',
    }),
    commands.registerCommand('leanspot.reviewTable', async (given?: Uri) => {
      const uri = given ? onDisk(given) : window.activeTextEditor?.document.uri;
      const markdown = uri && (await reviewed(client, uri));
      if (markdown !== undefined) await show(uri!, markdown);
      return markdown;
    }),
  ];
}

/** Of a staged state the comparison gives that; the table as it is now lies on the disk. */
const onDisk = (uri: Uri): Uri =>
  uri.scheme === 'git' ? (workspace.workspaceFolders?.[0]?.uri ?? Uri.file('/')).with({ path: uri.path }) : uri;

async function reviewed(client: BaseLanguageClient, uri: Uri): Promise<string | undefined> {
  const earlier = [...(await committed(uri)), ...(await kept(uri))];
  if (earlier.length === 0) {
    void window.showInformationMessage(
      l10n.t('There is no earlier state of this table: none is committed, and none is kept under history.'),
    );
    return undefined;
  }
  const chosen =
    earlier.length === 1 ? earlier[0]! : await window.showQuickPick(earlier, { placeHolder: l10n.t('Compare the table with') });
  if (!chosen) return undefined;
  const answer = await client.sendRequest<ReviewAnswer>(REVIEW, {
    uri: client.code2ProtocolConverter.asUri(uri),
    oldName: chosen.name,
    oldText: await chosen.read(),
  } satisfies ReviewParams);
  if (answer && 'markdown' in answer) return answer.markdown;
  void window.showInformationMessage(
    answer ? l10n.t('The two states cannot be compared: {0}.', answer.refused) : l10n.t('This file does not read as a table.'),
  );
  return undefined;
}

/** The table as of the last commit; none where there is no repository or the table is new. */
async function committed(uri: Uri): Promise<Earlier[]> {
  try {
    const git = await extensions.getExtension<Git>('vscode.git')?.activate();
    const text = await git?.getAPI(1).getRepository(uri)?.show('HEAD', uri.fsPath);
    return text === undefined ? [] : [{ label: l10n.t('Last commit'), name: l10n.t('the last commit'), read: async () => text }];
  } catch {
    return [];
  }
}

/** Its earlier states that corrections kept, the newest first. */
async function kept(uri: Uri): Promise<Earlier[]> {
  const folder = workspace.getWorkspaceFolder(uri);
  const base = /([^/]+?)(?:\.table)?\.csv$/i.exec(uri.path)?.[1];
  if (!folder || base === undefined) return [];
  const beside = Uri.joinPath(uri, '..');
  const found = await workspace.findFiles(new RelativePattern(beside, 'history/*.csv'));
  const number = (file: Uri): number => Number(/-(\d+)\.table\.csv$/i.exec(file.path)?.[1] ?? NaN);
  return found
    .filter((file) => file.path.slice(file.path.lastIndexOf('/') + 1).startsWith(`${base}-`) && !Number.isNaN(number(file)))
    .sort((a, b) => number(b) - number(a))
    .map((file) => ({
      label: workspace.asRelativePath(file),
      name: workspace.asRelativePath(file),
      read: async () => (await workspace.openTextDocument(file)).getText(),
    }));
}
