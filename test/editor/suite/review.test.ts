// The command that reviews a changed table: against an earlier state kept under history, and where there is none.
import assert from 'node:assert/strict';
import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { dirname } from 'node:path';
import * as vscode from 'vscode';
import { benchCarFile, closeAll } from './support.js';

suite('review', () => {
  teardown(closeAll);

  test('a table against its earlier state, shown as a page', async () => {
    const table = benchCarFile('tables/target.table.csv');
    const earlier = benchCarFile('tables/history/target-1.table.csv').fsPath;
    mkdirSync(dirname(earlier), { recursive: true });
    try {
      writeFileSync(earlier, readFileSync(table.fsPath, 'utf8').replace('0.92', '0.90'));
      const markdown = await vscode.commands.executeCommand<string>('leanspot.reviewTable', table);
      assert.match(markdown, /1 of \d+ cells changed, by \\\+2\.2 %/);
      assert.match(markdown, /\| 0\.9 \| 0\.92 \| \\\+2\.2 % \|/);
    } finally {
      rmSync(dirname(earlier), { recursive: true });
    }
  });
});
