// The server is restarted by its command: findings go and come back.
import * as vscode from 'vscode';
import { benchCarFile, closeAll, show, toldWhen } from './support.js';

suite('restart', () => {
  suiteTeardown(closeAll);

  test('findings return after the server was restarted', async () => {
    const { uri } = await show(benchCarFile('tables/fuel.table.csv'));
    await toldWhen(uri, (all) => all.length > 0);
    const gone = toldWhen(uri, (all) => all.length === 0);
    await vscode.commands.executeCommand('leanspot.restartServer');
    await gone;
    await toldWhen(uri, (all) => all.length > 0);
  });
});
