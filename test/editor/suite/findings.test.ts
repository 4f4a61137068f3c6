// Findings stand where the fault stands, to the character.
import assert from 'node:assert/strict';
import { leanLines, misspeltCell, misspeltReading } from '../benchCar.js';
import { benchCarFile, closeAll, placeOf, show, toldWhen } from './support.js';

suite('findings stand on their cells', () => {
  suiteTeardown(closeAll);

  test('a misspelt table cell', async () => {
    const document = await show(benchCarFile('tables/fuel.table.csv'));
    const findings = await toldWhen(document.uri, (all) => all.some(({ code }) => code === 'value-not-a-number'));
    const here = findings.filter(({ code }) => code === 'value-not-a-number');
    assert.deepEqual(
      here.map(({ range }) => range),
      [placeOf(document, misspeltCell)],
    );
    assert.ok(here[0]!.message.includes(misspeltCell), here[0]!.message);
  });

  test('a misspelt reading in a session', async () => {
    const document = await show(benchCarFile('sessions/drive.session.csv'));
    const findings = await toldWhen(document.uri, (all) => all.some(({ code }) => code === 'value-not-a-number'));
    const here = findings.filter(({ code }) => code === 'value-not-a-number');
    assert.deepEqual(
      here.map(({ range }) => range),
      [placeOf(document, misspeltReading)],
    );
  });

  test('one lean spot under boost is one error over its rows, and overrun is none', async () => {
    const document = await show(benchCarFile('sessions/drive.session.csv'));
    const findings = await toldWhen(document.uri, (all) => all.some(({ code }) => code === 'lean-under-load'));
    const lean = findings.filter(({ code }) => code === 'lean-under-load');
    assert.equal(lean.length, 1);
    const { range, severity, message } = lean[0]!;
    assert.equal(severity, 'Error');
    // Exhaust takes a moment to the sensor, so a tenth of a second (two rows) either way is the same place.
    assert.ok(Math.abs(range.start.line - leanLines.first) <= 2, `starts on ${range.start.line}, the spot on ${leanLines.first}`);
    assert.ok(Math.abs(range.end.line - leanLines.last) <= 2, `ends on ${range.end.line}, the spot on ${leanLines.last}`);
    assert.match(message, /0\.9[678]/, 'the message says how lean');
  });
});
