// A workspace with cars in it is opened: the extension wakes up, knows the files, and reads the sample whole.
import assert from 'node:assert/strict';
import { existsSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import * as vscode from 'vscode';
import { sampleName } from '../benchCar.js';
import { benchCarFile, closeAll, extension, show, told, toldWhen, workspaceFolder } from './support.js';

suite('a workspace is opened', () => {
  suiteTeardown(closeAll);

  test('a vehicle folder wakes the extension', async () => {
    // Nothing is opened: only what woke by the folder can tell.
    await toldWhen(benchCarFile('sessions/drive.session.csv'), (findings) => findings.length > 0);
    assert.ok(extension().isActive);
  });

  test('sessions and tables are known by their names', async () => {
    assert.equal((await show(benchCarFile('sessions/drive.session.csv'))).languageId, 'session-log');
    assert.equal((await show(benchCarFile('tables/fuel.table.csv'))).languageId, 'fuel-table');
    assert.equal((await show(benchCarFile('vehicle.json'))).languageId, 'json');
  });

  test('every finding has a code with a page of its own', async () => {
    const uri = benchCarFile('sessions/drive.session.csv');
    await show(uri);
    for (const { code, page } of await toldWhen(uri, (findings) => findings.length > 0)) {
      assert.ok(page && existsSync(page.fsPath), `${code} leads to ${page?.toString()}`);
      assert.ok(page.fsPath.includes(code), `${code} leads to its own page, not ${page.fsPath}`);
    }
  });

  test("the sample's planted trouble is told", async () => {
    const folder = join(workspaceFolder(), sampleName);
    const sessions = readdirSync(folder, { recursive: true, encoding: 'utf8' }).filter((path) => path.endsWith('.session.csv'));
    assert.ok(sessions.length > 0);
    const codes = new Set<string>();
    for (const path of sessions) {
      const { uri } = await show(vscode.Uri.file(join(folder, path)));
      await toldWhen(uri, (findings) => findings.length > 0);
      for (const { code } of told(uri)) codes.add(code);
    }
    for (const code of ['lean-under-load', 'sensor-dropout', 'channel-clipped'])
      assert.ok(codes.has(code), `${code} among ${[...codes].join(', ')}`);
  }).timeout(200_000);
});
