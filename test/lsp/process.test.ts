// The language server as a process of its own, as an editor starts it.

import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import {
  createProtocolConnection,
  StreamMessageReader,
  StreamMessageWriter,
  type InitializeResult,
} from 'vscode-languageserver-protocol/node';
import { program } from '../cli/run.js';

suite('language server process', () => {
  test('speaks the protocol on standard input and output, and ends when it is told to', async () => {
    const child = spawn(process.execPath, [await program(), 'serve', '--stdio', `--clientProcessId=${process.pid}`]);
    let stderr = '';
    child.stderr.on('data', (text) => {
      stderr += String(text);
    });
    const connection = createProtocolConnection(new StreamMessageReader(child.stdout), new StreamMessageWriter(child.stdin));
    connection.listen();
    const { capabilities, serverInfo } = await connection.sendRequest<InitializeResult>('initialize', {
      processId: process.pid,
      rootUri: null,
      capabilities: {},
      workspaceFolders: null,
    });
    assert.equal(serverInfo?.name, 'leanspot');
    assert.equal(capabilities.hoverProvider, true);
    await connection.sendNotification('initialized', {});
    await connection.sendRequest('shutdown');
    const ended = once(child, 'exit');
    await connection.sendNotification('exit');
    assert.deepEqual(await ended, [0, null]);
    assert.equal(stderr, '');
    connection.dispose();
  });

  test('ends when its editor has gone', async () => {
    const child = spawn(process.execPath, [await program(), 'serve']);
    const ended = once(child, 'exit');
    child.stdin.end();
    const [status] = await ended;
    assert.equal(typeof status, 'number');
  });
});
