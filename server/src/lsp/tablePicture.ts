// The requests of a table's picture: the service asked with the user's largest step; a cancelled one stops between sessions.

import type { Connection } from 'vscode-languageserver';
import { TABLE, type PathParams, type PathResult, type PictureParams, type TablePicture } from '../protocol/table.js';
import type { LanguageService } from '../service/languageService.js';
import { breathe, type Answerer } from './answer.js';
import { normalUri } from './editorWorkspace.js';
import type { SettingsOf } from './settings.js';

/** All are asked by URI, in whatever spelling; a file that is no table is answered with null. */
export function serveTablePicture({
  connection,
  service: { tablePicture },
  settingsOf,
  answer,
}: {
  readonly connection: Connection;
  readonly service: LanguageService;
  readonly settingsOf: SettingsOf;
  readonly answer: Answerer;
}): void {
  const uriOf = ({ uri }: { readonly uri: string }): string => normalUri(uri);
  connection.onRequest(
    TABLE.picture,
    answer<PictureParams, TablePicture | null>(
      'Table picture',
      uriOf,
      async (params, token) => {
        const uri = uriOf(params);
        const {
          correct: { maxChangePercent },
        } = await settingsOf(uri);
        const progress = {
          get cancelled() {
            return token.isCancellationRequested;
          },
          report: breathe,
        };
        return (await tablePicture.picture({ ...params, uri }, maxChangePercent, progress)) ?? null;
      },
      null,
    ),
  );
  connection.onRequest(
    TABLE.path,
    answer<PathParams, PathResult | null>(
      'Way over the table',
      uriOf,
      async (params) => (await tablePicture.path({ ...params, uri: uriOf(params), session: normalUri(params.session) })) ?? null,
      null,
    ),
  );
}
