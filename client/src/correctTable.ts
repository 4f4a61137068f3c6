// A call-out above a table, or the command: the cautions are told, then the same edit as the quick fix makes is shown to be looked at.

import { l10n, Uri, window, workspace } from 'vscode';
import { CodeActionRequest, CodeActionTriggerKind, type CodeAction, type Command, type LanguageClient } from 'vscode-languageclient/node';
import type { CorrectParams } from '../../server/src/protocol/messages.js';

const HEAD = { start: { line: 0, character: 0 }, end: { line: 0, character: 0 } };

/** Without parameters: every proven cell of the active table. */
export async function correctTable(client: LanguageClient, params?: CorrectParams): Promise<void> {
  const uri = params ? Uri.parse(params.uri) : window.activeTextEditor?.document.uri;
  if (!uri) return;
  if (!workspace.isTrusted) {
    void window.showInformationMessage(l10n.t('Files are changed only in a trusted folder.'));
    return;
  }
  await workspace.openTextDocument(uri);
  const offered = await client.sendRequest(CodeActionRequest.type, {
    textDocument: { uri: client.code2ProtocolConverter.asUri(uri) }, range: HEAD, context: { diagnostics: [], triggerKind: CodeActionTriggerKind.Invoked },
  });
  const action = offered?.find((each) => kindOf(each) === (params?.kind ?? 'all')) as CodeAction | undefined;
  const edit = await client.protocol2CodeConverter.asWorkspaceEdit(action?.edit);
  if (!action || !edit) {
    void window.showInformationMessage(l10n.t('The sessions prove nothing that would change this table.'));
    return;
  }
  const [annotation] = Object.values(action.edit?.changeAnnotations ?? {});
  if (annotation?.needsConfirmation) {
    const show = l10n.t('Show the Changes');
    if (await window.showWarningMessage(`${action.title}?`, { modal: true, detail: annotation.description }, show) !== show) return;
  }
  await workspace.applyEdit(edit, { isRefactoring: true });
}

const kindOf = (action: CodeAction | Command): unknown => ('data' in action ? (action.data as { kind?: unknown } | undefined)?.kind : undefined);
