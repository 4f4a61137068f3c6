// A correction of a table, from a call-out, a quick fix or the command: the cautions are told, then the edit is shown to be looked at.

import { l10n, Uri, window, workspace } from 'vscode';
import type { BaseLanguageClient, CodeAction } from 'vscode-languageclient';
import { CORRECTION, type CorrectParams } from '../../server/src/protocol/messages.js';
import { done } from './firstSteps.js';

/** Without parameters: every proven cell of the active table. */
export async function correctTable(client: BaseLanguageClient, params?: CorrectParams): Promise<void> {
  const uri = params ? Uri.parse(params.uri) : window.activeTextEditor?.document.uri;
  if (!uri) return;
  if (!workspace.isTrusted) {
    void window.showInformationMessage(l10n.t('Files are changed only in a trusted folder.'));
    return;
  }
  const action = await client.sendRequest<CodeAction | null>(CORRECTION, {
    kind: 'all',
    ...params,
    uri: client.code2ProtocolConverter.asUri(uri),
  } satisfies CorrectParams);
  const edit = await client.protocol2CodeConverter.asWorkspaceEdit(action?.edit);
  if (!action || !edit) {
    void window.showInformationMessage(l10n.t('The sessions prove nothing that would change this table.'));
    return;
  }
  const caution = Object.values(action.edit?.changeAnnotations ?? {}).find(({ needsConfirmation }) => needsConfirmation)?.description;
  if (caution !== undefined) {
    const show = l10n.t('Show the Changes');
    const how = l10n.t(
      'In the preview, tick the cells to change and apply. The table as it is now is kept beside it, and the sessions are pinned to that.',
    );
    if ((await window.showWarningMessage(l10n.t('{0}?', action.title), { modal: true, detail: `${caution}\n\n${how}` }, show)) !== show)
      return;
  }
  done('correction');
  await workspace.applyEdit(edit, { isRefactoring: true });
}
