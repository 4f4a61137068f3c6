// The whole extension: starts the language server, shows its state, and asks what only a person can answer.

import { commands, EventEmitter, l10n, Uri, window, workspace, type Event, type ExtensionContext, type LogOutputChannel } from 'vscode';
import type { BaseLanguageClient, LanguageClientOptions } from 'vscode-languageclient';
import {
  COMMANDS,
  OFFER_SESSION,
  STATUS,
  type CorrectParams,
  type InitializationOptions,
  type OfferSessionParams,
  type PlaceParams,
  type StatusParams,
} from '../../server/src/protocol/messages.js';
import { correctTable } from './correctTable.js';
import { copySample, goOnWithFirstSteps } from './copySample.js';
import { answerForFiles } from './files.js';
import { done, registerFirstSteps } from './firstSteps.js';
import { registerReview } from './reviewTable.js';
import { offerSession, readAsSession } from './offerSession.js';
import { saveReport } from './report.js';
import { createProcess } from './serverProcess.js';
import { createWorker } from './serverWorker.js';
import { showPlace } from './showPlace.js';
import { StatusItem } from './statusItem.js';
import { registerTable } from './table.js';
import { registerTrace } from './trace.js';
import { registerVehicleView } from './vehicleView.js';

let client: BaseLanguageClient | undefined;

/** What other extensions and the tests get. */
export interface Api {
  readonly ready: Promise<void>;
  /** What the server is doing and has found, as often as it tells: what is asked of it may be answered otherwise now. */
  readonly onStatus: Event<StatusParams>;
}

export async function activate(context: ExtensionContext): Promise<Api> {
  const output = window.createOutputChannel('Leanspot', { log: true });
  const status = new StatusItem();
  const statusTold = new EventEmitter<StatusParams>();
  context.subscriptions.push(output, status, statusTold);
  const started = (client = await makeClient(context, output));
  client.onNotification(STATUS, (params: StatusParams) => {
    status.show(params);
    statusTold.fire(params);
  });
  client.onNotification(OFFER_SESSION, (params: OfferSessionParams) => offerSession(params, context.globalState));
  client.onDidChangeState(({ newState }) => status.serverState(newState));

  context.subscriptions.push(
    commands.registerCommand('leanspot.restartServer', () => restart(output)),
    commands.registerCommand('leanspot.showOutput', () => output.show(true)),
    commands.registerCommand('leanspot.readAsSession', readAsSession),
    commands.registerCommand(COMMANDS.correctTable, (params?: CorrectParams) => correctTable(started, params)),
    commands.registerCommand('leanspot.saveReport', (uri?: Uri) =>
      saveReport(started, String((context.extension.packageJSON as { version: string }).version), uri),
    ),
    commands.registerCommand('leanspot.copySample', (into?: Uri) => copySample(context.extensionUri, context.globalState, into)),
    commands.registerCommand(COMMANDS.showPlace, (params: PlaceParams) => showPlace(params)),
    // Corrections and the call-outs that offer them come with the trust.
    workspace.onDidGrantWorkspaceTrust(() => restart(output)),
    registerFirstSteps(),
    ...registerTrace(context, client),
    ...registerReview(client),
    ...registerVehicleView(client, () => ready, statusTold.event),
    ...registerTable(context, client, statusTold.event),
  );
  void commands.executeCommand('setContext', 'leanspot.active', true);
  const ready = client.start().catch((error: unknown) => {
    output.error(`The language server did not start: ${String(error)}`);
    void window.showErrorMessage(l10n.t('Leanspot could not start its language server. The output says why.'));
  });
  void goOnWithFirstSteps(context.globalState);
  return { ready, onStatus: statusTold.event };
}

export async function deactivate(): Promise<void> {
  await client?.dispose();
  client = undefined;
}

/** The same client, server stopped and started: documents are opened again and findings return. */
async function restart(output: LogOutputChannel): Promise<void> {
  output.info('Restarting the language server.');
  if (client?.needsStop()) await client.stop();
  await client?.start();
}

/** No processes, no disk: the editor runs in a browser. */
const inBrowser = 'importScripts' in globalThis;

async function makeClient(context: ExtensionContext, output: LogOutputChannel): Promise<BaseLanguageClient> {
  const docsBase = `${Uri.joinPath(context.extensionUri, 'server/docs/findings').toString()}/`;
  const initializationOptions = (): InitializationOptions => ({
    docsBase,
    schemaKnown: true,
    commands: workspace.isTrusted,
    files: true,
    ...(context.storageUri && workspace.getConfiguration('leanspot').get('keepResults.enable', true)
      ? { keepFolder: Uri.joinPath(context.storageUri, 'results').toString() }
      : {}),
  });
  const clientOptions: LanguageClientOptions = {
    documentSelector: [{ language: 'session-log' }, { language: 'fuel-table' }, { pattern: '**/vehicle.json' }, { pattern: '**/*.csv' }],
    initializationOptions,
    outputChannel: output,
    markdown: { isTrusted: false, supportHtml: false },
    middleware: {
      // In a folder that is not trusted nothing is changed.
      provideCodeActions: (document, range, context, token, next) => (workspace.isTrusted ? next(document, range, context, token) : []),
      provideHover: async (document, position, token, next) => {
        const hover = await next(document, position, token);
        if (hover && document.languageId === 'session-log') done('reading');
        if (hover && document.languageId === 'fuel-table') done('cell');
        return hover;
      },
    },
    diagnosticPullOptions: { onChange: true, onSave: true, onTabs: true },
  };
  const made = await (inBrowser ? createWorker : createProcess)(context, clientOptions);
  answerForFiles(made, docsBase, !inBrowser);
  return made;
}
