// What is typed, and what changes on disk, is checked again without being asked.
import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import { misspeltCell, reading, readingLine } from '../benchCar.js';
import { answerWhen, benchCarFile, closeAll, hovers, placeOf, show, toldWhen, type, words } from './support.js';

const notANumber = ({ code }: { code: string }) => code === 'value-not-a-number';

suite('edits', () => {
  teardown(closeAll);

  test('a corrected cell loses its finding, a spoilt one gets it', async () => {
    const document = await show(benchCarFile('tables/fuel.table.csv'));
    const before = readFileSync(document.fileName, 'utf8');
    await toldWhen(document.uri, (all) => all.some(notANumber));
    await type(document, placeOf(document, misspeltCell), '63.0');
    await toldWhen(document.uri, (all) => !all.some(notANumber));
    await type(document, placeOf(document, '82.0'), 'eighty');
    const findings = await toldWhen(document.uri, (all) => all.some(notANumber));
    assert.deepEqual(
      findings.filter(notANumber).map(({ range }) => range),
      [placeOf(document, 'eighty')],
    );
    assert.equal(readFileSync(document.fileName, 'utf8'), before, 'nothing is saved that was only typed');
  });

  test('breakpoints out of order', async () => {
    const document = await show(benchCarFile('tables/fuel.table.csv'));
    await type(document, placeOf(document, '3000'), '1500');
    const findings = await toldWhen(document.uri, (all) => all.some(({ code }) => code === 'axis-not-monotonic'));
    const line = placeOf(document, '1500').start.line;
    assert.ok(findings.filter(({ code }) => code === 'axis-not-monotonic').every(({ range }) => range.start.line === line));
  });

  test('a table changed on disk', async () => {
    const document = await show(benchCarFile('tables/target.table.csv'));
    const before = readFileSync(document.fileName, 'utf8');
    try {
      writeFileSync(document.fileName, before.replace('0.92', 'none'));
      await toldWhen(document.uri, (all) => all.some(notANumber));
    } finally {
      writeFileSync(document.fileName, before);
    }
    await toldWhen(document.uri, (all) => !all.some(notANumber));
  });

  test('another fuel in the vehicle file changes what a hover says', async () => {
    const vehicle = benchCarFile('vehicle.json').fsPath;
    const document = await show(benchCarFile('sessions/drive.session.csv'));
    const { start } = placeOf(document, reading.lambda, readingLine);
    const says = () => hovers(document.uri, start).then(words);
    const before = readFileSync(vehicle, 'utf8');
    try {
      writeFileSync(vehicle, before.replace('"E10"', '"E85"'));
      // 0.830 x 9.8097, E85 by mass from AFR 14.7 and 9.0 (Heywood 1988, table D.4, from memory).
      await answerWhen(says, (text) => /\b8\.14/.test(text));
    } finally {
      writeFileSync(vehicle, before);
    }
    await answerWhen(says, (text) => !/\b8\.14/.test(text));
  });
});
