// The report of a vehicle, made for the client to save.

import type { CancellationToken, Connection } from 'vscode-languageserver';
import { REPORT, type ReportParams, type ReportResult } from '../protocol/messages.js';
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
}: {
  readonly connection: Connection;
  readonly service: LanguageService;
  readonly workspace: Workspace;
  readonly answer: Answerer;
}): void {
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
        const report = await gather(workspace, service, folder, { date, version, progress });
        return { page: reportPage(report), name: report.name, folder: folder.uri };
      },
      null,
    ),
  );
}
