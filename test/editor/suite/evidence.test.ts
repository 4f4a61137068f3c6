// What the sessions prove about the sample's fuel table, where the table and the sessions are edited: hints, call-outs, hovers, both ways
// between them.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import * as vscode from 'vscode';
import { answerWhen, closeAll, hovers, sampleFile, show, words } from './support.js';

const table = () => sampleFile('tables/ve.table.csv');

const hintsOf = (document: vscode.TextDocument) =>
  vscode.commands.executeCommand<vscode.InlayHint[]>(
    'vscode.executeInlayHintProvider',
    document.uri,
    new vscode.Range(0, 0, document.lineCount, 0),
  );

const label = ({ label: text }: vscode.InlayHint) => (typeof text === 'string' ? text : text.map(({ value }) => value).join(''));

/** The table's hints once the sessions have been weighed, which takes a while. */
async function weighed(): Promise<{ document: vscode.TextDocument; hints: vscode.InlayHint[] }> {
  const document = await show(table());
  return {
    document,
    hints: await answerWhen(
      () => hintsOf(document),
      (all) => all.some((hint) => label(hint).startsWith('×')),
    ),
  };
}

const lensesOf = (uri: vscode.Uri) => vscode.commands.executeCommand<vscode.CodeLens[]>('vscode.executeCodeLensProvider', uri, 100);

suite('evidence on the sample', () => {
  suiteTeardown(closeAll);

  test('a hint of one width stands behind every number of the grid, the breakpoints too', async () => {
    const { document, hints } = await weighed();
    const rows = document
      .getText()
      .split(/\r?\n/)
      .filter((line) => line.trim() !== '' && !line.startsWith('#'));
    const columns = rows[0]!.split(',').length - 1;
    assert.equal(hints.length, rows.length * columns);
    assert.deepEqual([...new Set(hints.map((hint) => label(hint).length))].length, 1);
    const proven = hints.filter((hint) => label(hint).startsWith('×'));
    assert.ok(proven.every(({ tooltip }) => /Proven: factor .* 95 %/.test(String(typeof tooltip === 'object' ? tooltip.value : tooltip))));
  }).timeout(200_000);

  test('no hints where the setting says so', async () => {
    const { document } = await weighed();
    const settings = vscode.workspace.getConfiguration('leanspot', document.uri);
    await settings.update('inlayHints.enable', false, vscode.ConfigurationTarget.Workspace);
    try {
      await answerWhen(
        () => hintsOf(document),
        (all) => all.length === 0,
      );
    } finally {
      await settings.update('inlayHints.enable', undefined, vscode.ConfigurationTarget.Workspace);
    }
    await answerWhen(
      () => hintsOf(document),
      (all) => all.length > 0,
    );
  }).timeout(200_000);

  test('the hover of a proven cell tells the evidence in words', async () => {
    const { document, hints } = await weighed();
    const { position } = hints.find((hint) => label(hint).startsWith('×'))!;
    const says = words(
      await answerWhen(
        () => hovers(document.uri, position.translate(0, -1)),
        (all) => /Factor/.test(words(all)),
      ),
    );
    assert.match(says, /Samples/);
    assert.match(says, /firm/);
    assert.match(says, /95 % between/);
  }).timeout(200_000);

  test('call-outs: what there is, and the correction one click away', async () => {
    const { document } = await weighed();
    const lenses = await answerWhen(
      () => lensesOf(document.uri),
      (all) => all.some(({ command }) => command?.command === 'leanspot.correctTable'),
    );
    const titles = lenses.map(({ command }) => command?.title ?? '');
    assert.ok(
      titles.some((title) => /^3 sessions, \d+ samples: \d+ of 192 cells proven/.test(title)),
      titles.join('; '),
    );
    assert.ok(
      titles.some((title) => /^Correct \d+ proven cells$/.test(title)),
      titles.join('; '),
    );
    assert.ok((await vscode.commands.getCommands(true)).includes('leanspot.correctTable'));
  }).timeout(200_000);

  test('from a row of a pull to the cell that fuelled it, and from that cell back to rows', async () => {
    await weighed();
    const { uri } = await show(sampleFile('sessions/dyno.session.csv'));
    const lenses = await answerWhen(
      () => lensesOf(uri),
      (all) => all.length > 0,
    );
    const pull = lenses.find(({ command }) => /^Pull 1: .*worst λ/.test(command?.title ?? ''));
    assert.ok(pull, lenses.map(({ command }) => command?.title).join('; '));
    const { line } = pull.command!.arguments![0] as { line: number };
    const found = await vscode.commands.executeCommand<(vscode.Location | vscode.LocationLink)[]>(
      'vscode.executeDefinitionProvider',
      uri,
      new vscode.Position(line, 3),
    );
    const [link] = found.map((each) =>
      'targetUri' in each ? { uri: each.targetUri, range: each.targetSelectionRange ?? each.targetRange } : each,
    );
    assert.equal(link?.uri.fsPath, table().fsPath);
    const rows = await vscode.commands.executeCommand<vscode.Location[]>('vscode.executeReferenceProvider', link.uri, link.range.start);
    assert.ok(rows.length > 0 && rows.length <= 200, `${rows.length} rows`);
    assert.ok(rows.every(({ uri: { fsPath } }) => fsPath.endsWith('.session.csv')));
  }).timeout(200_000);

  test('corrections are offered at a proven cell, and nothing is changed by asking', async () => {
    const { document, hints } = await weighed();
    const before = readFileSync(document.fileName);
    const { position } = hints.find((hint) => /^×(?!1\.00)/.test(label(hint)))!;
    const offered = await answerWhen(
      () =>
        vscode.commands.executeCommand<vscode.CodeAction[]>(
          'vscode.executeCodeActionProvider',
          document.uri,
          new vscode.Range(position, position),
        ),
      (actions) => actions.some(({ title }) => /^Correct all \d+ proven cells/.test(title)),
    );
    // A command, which tells the cautions before it shows the edit; what that does is played as a scene.
    assert.ok(
      offered
        .filter(({ title }) => title.startsWith('Correct'))
        .every(({ command, edit }) => command?.command === 'leanspot.correctTable' && !edit),
    );
    assert.deepEqual(readFileSync(document.fileName), before);
    assert.equal(document.isDirty, false);
  }).timeout(200_000);
});
