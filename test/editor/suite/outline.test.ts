// A session's outline and folding: its pulls and channels.
import assert from 'node:assert/strict';
import * as vscode from 'vscode';
import { pullLines } from '../benchCar.js';
import { answerWhen, benchCarFile, closeAll, show } from './support.js';

/** Lines by which the start of a pull may be seen later or earlier: half a second at 20 rows a second. */
const slackLines = 10;

suite('outline', () => {
  suiteTeardown(closeAll);

  test('pulls and channels are symbols, the pull where it is', async () => {
    const { uri } = await show(benchCarFile('sessions/drive.session.csv'));
    const symbols = flat(
      (await answerWhen(
        () => vscode.commands.executeCommand<vscode.DocumentSymbol[] | undefined>('vscode.executeDocumentSymbolProvider', uri),
        (answer) => (answer ?? []).length > 0,
      )) ?? [],
    );
    const named = (pattern: RegExp) => symbols.filter(({ name }) => pattern.test(name));
    assert.ok(named(/engine.speed/i).length > 0 && named(/lambda/i).length > 0, 'channels');
    const pulls = named(/pull/i).filter(({ range }) => range.end.line - range.start.line > slackLines);
    assert.ok(
      pulls.some(isThePull),
      `pulls on ${pulls.map(({ range }) => `${range.start.line} to ${range.end.line}`).join(', ') || 'no line'}`,
    );
  });

  test('the pull folds', async () => {
    const { uri } = await show(benchCarFile('sessions/drive.session.csv'));
    const ranges = await answerWhen(
      () => vscode.commands.executeCommand<vscode.FoldingRange[] | undefined>('vscode.executeFoldingRangeProvider', uri),
      (answer) => (answer ?? []).length > 0,
    );
    assert.ok(ranges!.some(({ start, end }) => isThePull({ range: new vscode.Range(start, 0, end, 0) })));
  });
});

function isThePull({ range }: { range: vscode.Range }): boolean {
  return Math.abs(range.start.line - pullLines.first) <= slackLines && Math.abs(range.end.line - pullLines.last) <= slackLines;
}

const flat = (symbols: vscode.DocumentSymbol[]): vscode.DocumentSymbol[] => symbols.flatMap((symbol) => [symbol, ...flat(symbol.children)]);
