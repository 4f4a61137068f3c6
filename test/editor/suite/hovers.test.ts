// The mouse rests on a number, a header or a cell: what is shown is right and belongs to that field alone.
import assert from 'node:assert/strict';
import type * as vscode from 'vscode';
import { reading, readingLine } from '../benchCar.js';
import { answerWhen, benchCarFile, closeAll, hovers, placeOf, show, words } from './support.js';

/** What is said over a text, once the server answers. */
async function over(path: string, text: string, line = 0): Promise<{ says: string; range: vscode.Range | undefined; place: vscode.Range }> {
  const document = await show(benchCarFile(path));
  const place = placeOf(document, text, line);
  const found = await answerWhen(
    () => hovers(document.uri, place.start.translate(0, 1)),
    (all) => words(all).length > 0,
  );
  return { says: words(found), range: found[0]!.range, place };
}

suite('hovers', () => {
  suiteTeardown(closeAll);

  test('a lambda reading in every related unit', async () => {
    const { says, range, place } = await over('sessions/drive.session.csv', reading.lambda, readingLine);
    assert.deepEqual(range, place);
    // 0.830 x 14.7 and x 14.0965: the gasoline scale and E10, by mass from AFR 14.7 and 9.0 (Heywood 1988, table D.4, from memory).
    assert.match(says, /12\.20?\b/, 'AFR on the gasoline scale');
    assert.match(says, /11\.70?\b/, 'AFR for the fuel in the tank');
    // 1 / 0.830, the definition of the fuel-air equivalence ratio.
    assert.match(says, /1\.20[45]?/, 'phi');
  });

  test('a pressure in bar and psi', async () => {
    const { says, range, place } = await over('sessions/drive.session.csv', reading.manifoldPressureKPa, readingLine);
    assert.deepEqual(range, place);
    // NIST SP 811: 1 bar is 100 kPa, 1 psi is 6.894757 kPa.
    assert.match(says, /1\.60* bar|bar \| 1\.60*\b/);
    assert.match(says, /23\.21? psi|psi \| 23\.21?\b/);
  });

  test('a header says what the channel is', async () => {
    const { says } = await over('sessions/drive.session.csv', 'Manifold Pressure');
    assert.match(says, /manifold pressure/i);
  });

  test('a table cell and a breakpoint', async () => {
    const cell = await over('tables/fuel.table.csv', '60.0');
    assert.deepEqual(cell.range, cell.place);
    assert.match(cell.says, /2000/, 'the operating point of the cell');
    const breakpoint = await over('tables/fuel.table.csv', '3000');
    assert.match(breakpoint.says, /engine speed/i);
  });
});
