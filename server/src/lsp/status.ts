// What the server is doing, for the status item, and as cancellable progress where a scan is long.

import type { ClientCapabilities, Connection, WorkDoneProgressServerReporter } from 'vscode-languageserver';
import { STATUS, type StatusParams } from '../protocol/messages.js';
import { baseName } from '../service/uris.js';
import type { Scanner } from './scanner.js';

/** Between two messages of the same work, ms: more often nobody can read them. */
const LEAST_PAUSE_MS = 200;

export function reportStatus(connection: Connection, scanner: Scanner, capabilities: ClientCapabilities): void {
  const send = (state: StatusParams['state'], what?: string): void => {
    const checks = [...scanner.results.values()];
    const count = (severity: string): number =>
      checks.reduce((sum, { findings }) => sum + findings.filter((finding) => finding.severity === severity).length, 0);
    void connection.sendNotification(STATUS, {
      state,
      what,
      sessions: checks.filter(({ kind }) => kind === 'session').length,
      tables: checks.filter(({ kind }) => kind === 'table').length,
      errors: count('error'),
      warnings: count('warning'),
    } satisfies StatusParams);
  };

  let sentMs = 0;
  let progress: Promise<WorkDoneProgressServerReporter> | undefined;
  const end = (): void => {
    progress?.then((shown) => shown.done()).catch(() => undefined);
    progress = undefined;
  };
  const begin = (): void => {
    if (progress || capabilities.window?.workDoneProgress !== true) return;
    progress = connection.window.createWorkDoneProgress().then((shown) => {
      shown.begin('Checking', 0, undefined, true);
      shown.token.onCancellationRequested(() => scanner.cancel());
      return shown;
    });
    progress.catch(() => undefined);
  };

  scanner.onProgress((at) => {
    if (at === 'ended') {
      end();
      send('ready');
      return;
    }
    begin();
    const what = `${at.done + 1} of ${at.total}: ${baseName(at.uri)}`;
    progress?.then((shown) => shown.report(Math.round((100 * at.done) / at.total), what)).catch(() => undefined);
    if (Date.now() - sentMs < LEAST_PAUSE_MS) return;
    sentMs = Date.now();
    send('busy', what);
  });
}
