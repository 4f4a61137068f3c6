// A plain .csv that reads as a session: the client is told once, so that it may offer to treat the file as one.

import type { Connection, TextDocuments } from 'vscode-languageserver';
import { OFFER_SESSION, type OfferSessionParams } from '../protocol/messages.js';
import type { LanguageService } from '../service/languageService.js';
import { normalUri } from './editorWorkspace.js';
import type { OpenText } from './longText.js';

export function offerSessions(connection: Connection, service: LanguageService, open: TextDocuments<OpenText>): void {
  const offered = new Set<string>();

  const look = async (document: OpenText): Promise<void> => {
    const uri = normalUri(document.uri);
    if (offered.has(uri)) return;
    const known = await service.kindOf(uri);
    if (known?.kind !== 'session' || known.from !== 'head' || offered.has(uri)) return;
    offered.add(uri);
    const channels =
      (await service.documents.head(uri))?.channels.filter(({ quantity }) => quantity !== undefined).map(({ name }) => name) ?? [];
    await connection.sendNotification(OFFER_SESSION, { uri: document.uri, channels } satisfies OfferSessionParams);
  };

  open.onDidOpen(({ document }) => {
    look(document).catch((error: unknown) => connection.console.error(`Looking into ${document.uri} failed: ${String(error)}`));
  });
}
