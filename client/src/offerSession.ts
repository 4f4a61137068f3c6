// A plain .csv that reads as a session: asked about once a file, and never again where the user says so.

import { commands, l10n, languages, Uri, window, workspace, type Memento } from 'vscode';
import type { OfferSessionParams } from '../../server/src/protocol/messages.js';

const NEVER = 'offer.plainCsv.never';
const asked = new Set<string>();

export async function offerSession({ uri, channels }: OfferSessionParams, memory: Memento): Promise<void> {
  if (asked.has(uri) || memory.get<boolean>(NEVER)) return;
  asked.add(uri);
  if (!workspace.getConfiguration('leanspot', Uri.parse(uri)).get<boolean>('offer.plainCsv', true)) return;
  const name = Uri.parse(uri).path.split('/').pop();
  const yes = l10n.t('Read as Session');
  const never = l10n.t("Don't Ask Again");
  const answer = await window.showInformationMessage(
    l10n.t('{0} reads as an engine session ({1}). Check it as one?', name ?? uri, channels.slice(0, 4).join(', ')),
    yes,
    never,
  );
  if (answer === never) await memory.update(NEVER, true);
  if (answer === yes) await markAsSession(Uri.parse(uri));
}

/** Command: the active file is a session log, whatever its name. */
export async function readAsSession(): Promise<void> {
  const uri = window.activeTextEditor?.document.uri;
  if (uri) await markAsSession(uri);
}

async function markAsSession(uri: Uri): Promise<void> {
  const document = await workspace.openTextDocument(uri);
  await languages.setTextDocumentLanguage(document, 'session-log');
  await commands.executeCommand('workbench.action.focusActiveEditorGroup');
}
