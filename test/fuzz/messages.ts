// Messages to the language server that no editor would send: known methods with anything for parameters, unknown ones, notifications out of
// order.

import type { Random } from '../support/faults/random.js';
import { startClient } from '../support/lspClient.js';
import { inFolder } from '../support/folder.js';
import { SAMPLE_CAR } from '../support/sampleDrive.js';
import { uriOf } from '../../server/src/disk/diskWorkspace.js';
import { TRACE } from '../../server/src/protocol/trace.js';
import { CORRECTION } from '../../server/src/protocol/messages.js';
import { join } from 'node:path';

const REQUESTS = [
  'textDocument/hover',
  'textDocument/documentSymbol',
  'textDocument/foldingRange',
  'textDocument/completion',
  'textDocument/documentLink',
  'textDocument/selectionRange',
  'textDocument/documentHighlight',
  'textDocument/codeLens',
  'textDocument/definition',
  'textDocument/references',
  'textDocument/inlayHint',
  'textDocument/codeAction',
  'textDocument/diagnostic',
  'workspace/diagnostic',
  'workspace/symbol',
  'textDocument/formatting',
  'textDocument/rename',
  'workspace/executeCommand',
  'codeLens/resolve',
  'textDocument/semanticTokens/full',
  'initialize',
  'no/such/method',
  '',
  CORRECTION,
  ...Object.values(TRACE),
];
const NOTIFICATIONS = [
  'textDocument/didOpen',
  'textDocument/didChange',
  'textDocument/didClose',
  'textDocument/didSave',
  'workspace/didChangeWatchedFiles',
  'workspace/didChangeConfiguration',
  'workspace/didChangeWorkspaceFolders',
  '$/cancelRequest',
  '$/setTrace',
  'initialized',
  'no/such/method',
  'window/workDoneProgress/cancel',
];
const KEYS = [
  'textDocument',
  'uri',
  'position',
  'line',
  'character',
  'range',
  'start',
  'end',
  'positions',
  'context',
  'diagnostics',
  'only',
  'triggerKind',
  'contentChanges',
  'text',
  'version',
  'languageId',
  'changes',
  'type',
  'event',
  'added',
  'removed',
  'id',
  'value',
  'settings',
  'channels',
  'fromS',
  'toS',
  'pixels',
  'timeS',
  'runs',
  'run',
  'session',
  'kind',
  'previousResultIds',
  'previousResultId',
  'workDoneToken',
  'partialResultToken',
  '__proto__',
];

/** Anything that JSON can say, a well-formed piece of the protocol as often as not. */
function anything(random: Random, uris: readonly string[], depth = 0): unknown {
  const leaf = [
    null,
    true,
    0,
    -1,
    1.5,
    2 ** 31,
    2 ** 53,
    1e308,
    '',
    'x',
    '\0',
    '../../etc/passwd',
    ...uris,
    'file:///',
    'file://host/share/x.csv',
    'untitled:Untitled-1',
    'http://localhost/x',
    'file:///%',
    'file:///a%00b.session.csv',
    ':',
    'cell',
    'all',
  ];
  const kind = random.next();
  if (depth > 4 || kind < 0.4) return random.pick(leaf);
  if (kind < 0.5) return Array.from({ length: random.whole(0, 4) }, () => anything(random, uris, depth + 1));
  if (kind < 0.7)
    return {
      textDocument: {
        uri: random.pick(uris),
        version: random.whole(-1, 5),
        languageId: random.pick(['session-log', 'fuel-table', 'json', 'x']),
        text: random.pick(['', 'Time (s),RPM\n0,1\n', '{']),
      },
      position: { line: random.pick([0, 1, 5, -1, 1e9, 0.5]), character: random.pick([0, 3, -1, 1e9]) },
      range: { start: { line: 0, character: 0 }, end: { line: random.whole(0, 9), character: 0 } },
      context: { diagnostics: [] },
      uri: random.pick(uris),
      [random.pick(KEYS)]: anything(random, uris, depth + 1),
    };
  return Object.fromEntries(Array.from({ length: random.whole(0, 5) }, () => [random.pick(KEYS), anything(random, uris, depth + 1)]));
}

/** Sends so many messages; after each fifty the server must answer a sane question. Throws where it does not. */
export async function messages(count: number, random: Random): Promise<void> {
  await inFolder(SAMPLE_CAR, async (folder) => {
    const client = await startClient(folder, {
      textDocument: { publishDiagnostics: {}, hover: { contentFormat: ['markdown'] } },
      workspace: { workspaceEdit: { documentChanges: true, resourceOperations: ['create'] } },
    });
    const uris = ['vehicle.json', 'tables/ve.table.csv', 'sessions/run.session.csv', 'none.session.csv', '.'].map((path) =>
      uriOf(join(folder, path)),
    );
    const send = client.connection as unknown as {
      sendRequest(method: string, params: unknown): Promise<unknown>;
      sendNotification(method: string, params: unknown): Promise<void>;
    };
    const pending: Promise<unknown>[] = [];
    for (let sent = 1; sent <= count; sent++) {
      const params = anything(random, uris);
      if (random.chance(0.6)) pending.push(send.sendRequest(random.pick(REQUESTS), params).catch(() => undefined));
      else await send.sendNotification(random.pick(NOTIFICATIONS), params).catch(() => undefined);
      if (sent % 50 !== 0 && sent !== count) continue;
      // Each is answered, well or badly, and a sane question as it should be.
      await Promise.all(pending.splice(0));
      const saneUri = uriOf(join(folder, 'sane.session.csv'));
      await send.sendNotification('textDocument/didOpen', {
        textDocument: { uri: saneUri, languageId: 'session-log', version: 1, text: 'Time (s),Engine Speed (rpm)\n0,900\n1,950\n' },
      });
      const outline = await send.sendRequest('textDocument/documentSymbol', { textDocument: { uri: saneUri } });
      if (!Array.isArray(outline) || outline.length === 0)
        throw new Error(`after ${sent} messages a sane question is answered ${JSON.stringify(outline)}`);
      await send.sendNotification('textDocument/didClose', { textDocument: { uri: saneUri } });
    }
    await client.close();
  });
}
