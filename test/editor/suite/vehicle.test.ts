// The vehicle file: what is wrong in it is told at its place, and the editor helps to write it.
import assert from 'node:assert/strict';
import * as vscode from 'vscode';
import {
  answerWhen,
  benchCarFile,
  closeAll,
  hovers,
  placeOf,
  show,
  told,
  toldByAnybody,
  type Told,
  toldWhen,
  type,
  words,
} from './support.js';

/** The whole expectation at once, because what an earlier test left on the file may still be told for a moment. */
const onlyOn =
  (range: vscode.Range, severity: Told['severity']) =>
  (found: Told[], all = found.filter(isOfFile)) =>
    all.length === 1 && all.every((finding) => invalid(finding) && finding.severity === severity && finding.range.isEqual(range));

const invalid = ({ code }: { code: string }) => code === 'vehicle-invalid';

/** The folder holds a plain log that the file does not list, which is worth knowing and no fault of the file. */
const isOfFile = ({ message }: { message: string }) => !/reads as a session and is not listed/.test(message);

suite('the vehicle file', () => {
  teardown(closeAll);

  test('a right one raises nothing but that a log of its folder is not listed', async () => {
    const { uri } = await show(benchCarFile('vehicle.json'));
    await toldWhen(uri, (all) => all.length === 1 && !isOfFile(all[0]) && all[0].severity === 'Information');
    const fuelTable = benchCarFile('tables/fuel.table.csv');
    await show(fuelTable);
    // By the time the table is checked the vehicle file has been read.
    await toldWhen(fuelTable, (all) => all.length > 0);
    assert.deepEqual(told(uri).filter(isOfFile), []);
  });

  test('a wrong type is an error on the value', async () => {
    const document = await show(benchCarFile('vehicle.json'));
    await type(document, placeOf(document, '"cylinders": 4'), '"cylinders": "four"');
    await toldWhen(document.uri, onlyOn(placeOf(document, '"four"'), 'Error'));
    // The editor's own JSON checks answer later than the server, in another process: its hover on the key comes from the same schema.
    await answerWhen(
      () => hovers(document.uri, placeOf(document, '"cylinders"').start.translate(0, 2)),
      (all) => /Number of cylinders/.test(words(all)),
    );
    assert.deepEqual(
      toldByAnybody(document.uri)
        .filter(isOfFile)
        .map(({ source }) => source),
      ['leanspot'],
      JSON.stringify(toldByAnybody(document.uri)),
    );
  });

  test('an unknown key is a warning', async () => {
    const document = await show(benchCarFile('vehicle.json'));
    await type(document, placeOf(document, '"revLimitRpm"'), '"revLimit"');
    await toldWhen(document.uri, onlyOn(placeOf(document, '"revLimit"'), 'Warning'));
  });

  test('a file cut off in the middle is an error, told once, and mending it is seen', async () => {
    const document = await show(benchCarFile('vehicle.json'));
    const end = placeOf(document, '"tables"').start;
    await type(document, new vscode.Range(end, document.lineAt(document.lineCount - 1).range.end), '');
    // That it is no JSON is for the editor to tell, which reads JSON anyway.
    await answerWhen(
      async () => toldByAnybody(document.uri),
      (all) => all.some(({ severity }) => severity === vscode.DiagnosticSeverity.Error),
    );
    // When the server has seen the text too, it has nothing to add.
    await answerWhen(
      () => vscode.commands.executeCommand<vscode.DocumentLink[]>('vscode.executeLinkProvider', document.uri),
      (links) => links.length === 0,
    );
    const all = toldByAnybody(document.uri).filter(isOfFile);
    assert.ok(
      all.every(({ source }) => source !== 'leanspot'),
      JSON.stringify(all),
    );
    await vscode.commands.executeCommand('workbench.action.files.revert');
    await answerWhen(
      async () => toldByAnybody(document.uri),
      (left) => left.filter(isOfFile).length === 0,
    );
  });

  test('a table that is not there', async () => {
    const document = await show(benchCarFile('vehicle.json'));
    await type(document, placeOf(document, 'tables/fuel.table.csv'), 'tables/fool.table.csv');
    const place = placeOf(document, '"tables/fool.table.csv"');
    await toldWhen(document.uri, (all) => all.some(({ code, range }) => code === 'file-missing' && range.isEqual(place)));
  });

  test('completion knows the keys', async () => {
    const document = await show(benchCarFile('vehicle.json'));
    await type(document, new vscode.Range(0, 1, 0, 1), '\n  \n');
    const offered = await answerWhen(
      () =>
        vscode.commands.executeCommand<vscode.CompletionList>(
          'vscode.executeCompletionItemProvider',
          document.uri,
          new vscode.Position(1, 2),
        ),
      ({ items }) => items.some(({ label }) => labelOf(label) === 'limits'),
    );
    const labels = offered.items.map(({ label }) => labelOf(label));
    for (const key of ['injectors', 'channels', 'limits']) assert.ok(labels.includes(key), `${key} among ${labels.join(', ')}`);
  });
});

const labelOf = (label: string | vscode.CompletionItemLabel) => (typeof label === 'string' ? label : label.label).replaceAll('"', '');
