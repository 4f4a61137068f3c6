// The report of a vehicle, made for the client to save.

import type { CancellationToken, Connection } from 'vscode-languageserver';
import { REPORT, type ReportParams, type ReportResult } from '../protocol/messages.js';
import type { PageOf } from '../report/computed.js';
import { gather } from '../report/gather.js';
import { reportPage } from '../report/page.js';
import type { LanguageService } from '../service/languageService.js';
import type { Workspace } from '../service/workspace.js';
import { breathe, type Answerer } from './answer.js';
import { normalUri } from './editorWorkspace.js';

export function serveReport({
  connection,
  service,
  workspace,
  answer,
  docsBase,
}: {
  readonly connection: Connection;
  readonly service: LanguageService;
  readonly workspace: Workspace;
  readonly answer: Answerer;
  readonly docsBase: string | undefined;
}): void {
  const pageOf: PageOf = async (code) => {
    const source = docsBase === undefined ? undefined : await workspace.open(`${docsBase}${code}.md`);
    return source && new TextDecoder().decode(source.read(0, source.size));
  };
  connection.onRequest(
    REPORT,
    answer<ReportParams, ReportResult | null>(
      'Report',
      ({ uri }) => normalUri(uri),
      async ({ uri, date, version }, token: CancellationToken) => {
        const folder = await service.vehicleFolder(normalUri(uri));
        if (!folder) return null;
        const progress = {
          get cancelled() {
            return token.isCancellationRequested;
          },
          report: breathe,
        };
        const report = await gather(workspace, service, folder, { date, version, progress, pageOf });
        return { page: reportPage(report), name: report.name, folder: folder.uri };
      },
      null,
    ),
  );
}
