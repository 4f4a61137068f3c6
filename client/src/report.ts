// The report of a vehicle: asked of the server, saved where the user says, opened on request.

import { env, l10n, ProgressLocation, Uri, window, workspace } from 'vscode';
import type { BaseLanguageClient } from 'vscode-languageclient';
import { REPORT, type ReportParams, type ReportResult } from '../../server/src/protocol/messages.js';
import { done } from './firstSteps.js';

/** Of the vehicle that the active file (or the given one) belongs to; else of one that the user picks. */
export async function saveReport(client: BaseLanguageClient, version: string, uri?: Uri): Promise<void> {
  const of = uri ?? window.activeTextEditor?.document.uri;
  let made = of ? await reportOf(client, version, of) : null;
  if (made === null) made = await pickedReport(client, version);
  if (!made) return;
  const folder = client.protocol2CodeConverter.asUri(made.folder);
  const target = await window.showSaveDialog({
    defaultUri: Uri.joinPath(folder, `report-${today()}.html`),
    filters: { [l10n.t('Web page')]: ['html'] },
    title: l10n.t('Save the Report of {0}', made.name),
  });
  if (!target) return;
  await workspace.fs.writeFile(target, new TextEncoder().encode(made.page));
  done('report');
  const open = l10n.t('Open in the Browser');
  if (
    (await window.showInformationMessage(
      l10n.t('The report of {0} is saved. It needs no network; print it to make a PDF.', made.name),
      open,
    )) === open
  )
    await env.openExternal(target);
}

/** Null where the file belongs to no vehicle, undefined where the user called it off. */
async function reportOf(client: BaseLanguageClient, version: string, uri: Uri): Promise<ReportResult | null | undefined> {
  return window.withProgress(
    { location: ProgressLocation.Notification, title: l10n.t('Making the report'), cancellable: true },
    async (_, token) => {
      const params: ReportParams = { uri: client.code2ProtocolConverter.asUri(uri), date: today(), version };
      try {
        return await client.sendRequest<ReportResult | null>(REPORT, params, token);
      } catch (error) {
        if (token.isCancellationRequested) return undefined;
        throw error;
      }
    },
  );
}

async function pickedReport(client: BaseLanguageClient, version: string): Promise<ReportResult | null | undefined> {
  const files = await workspace.findFiles('**/vehicle.json', '**/node_modules/**');
  if (files.length === 0) {
    void window.showInformationMessage(l10n.t('A report needs a folder with a vehicle.json; none is open.'));
    return undefined;
  }
  const picked =
    files.length === 1
      ? files[0]
      : (
          await window.showQuickPick(
            files.map((file) => ({ label: workspace.asRelativePath(Uri.joinPath(file, '..')), file })),
            { title: l10n.t('Report of which vehicle?') },
          )
        )?.file;
  return picked && reportOf(client, version, picked);
}

/** The local day, as ISO 8601 has it. */
function today(): string {
  const now = new Date();
  return `${now.getFullYear()}-${String(now.getMonth() + 1).padStart(2, '0')}-${String(now.getDate()).padStart(2, '0')}`;
}
