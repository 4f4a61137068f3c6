// What the plot is given: the close look over the wide one, breaks, one x for several lines; units and times in words.

import assert from 'node:assert/strict';
import { extremesOf, lineOf, nearestRow, overlaid, overOneX } from '../../client/webview/tables.js';
import { readingOf, timeWords, unitsFor } from '../../client/webview/units.js';
import { actOf, KEYS } from '../../client/webview/keys.js';
import { TRACE_WORDS } from '../../server/src/protocol/traceWords.js';
import type { TraceChannel, TraceSummary } from '../../server/src/protocol/trace.js';

suite('view: tables', () => {
  const table = (x: number[], ...columns: number[][]) => ({
    x: Float64Array.from(x),
    columns: columns.map((column) => Float32Array.from(column)),
  });

  test('the close look takes the place of the wide one, and x goes on rising', () => {
    const { x, columns } = overlaid(table([0, 10, 20, 30, 40], [1, 2, 3, 4, 5]), table([18, 19, 21, 22], [7, 8, 9, 10]));
    assert.deepEqual([...x], [10, 18, 19, 21, 22, 30]);
    assert.deepEqual([...columns[0]!], [2, 7, 8, 9, 10, 4]);
    const wide = table([0, 1], [1, 2]);
    assert.equal(overlaid(wide, undefined), wide);
    assert.equal(overlaid(wide, table([0.5], [1], [2])), wide);
  });

  test('no number is a break', () => {
    assert.deepEqual(
      lineOf(Float32Array.of(1, NaN, 3), (value) => value * 2),
      [2, null, 6],
    );
    assert.deepEqual(extremesOf([[null, 4, undefined], [-1]]), [-1, 4]);
    assert.equal(extremesOf([[null], []]), undefined);
  });

  test('the nearest row', () => {
    assert.deepEqual(
      [-5, 0.4, 0.6, 99].map((at) => nearestRow([0, 1, 3], at)),
      [0, 0, 1, 2],
    );
  });

  test('lines over x of their own come over one x', () => {
    const { x, lines } = overOneX([
      { x: [1, 3], lines: [[10, null]] },
      { x: [2, 3], lines: [[5, 6]] },
    ]);
    assert.deepEqual([...x], [1, 2, 3]);
    assert.deepEqual(lines, [
      [10, undefined, null],
      [undefined, 5, 6],
    ]);
  });
});

suite('view: units', () => {
  const about = { barometerKPa: 100, fuel: { name: 'E85', stoichAfr: 9.8 } } as TraceSummary;
  const lambda: TraceChannel = {
    id: 'lambda',
    name: 'Lambda',
    quantity: 'lambda',
    unit: 'lambda',
    writtenUnit: 'afr',
    symbol: 'AFR',
    derived: false,
  };
  const pressure: TraceChannel = {
    id: 'manifold-pressure',
    name: 'MAP',
    quantity: 'manifold-pressure',
    unit: 'kPa',
    writtenUnit: 'psi-gauge',
    symbol: 'psi gauge',
    derived: false,
  };

  test("lambda as the fuel's AFR and on the gasoline scale", () => {
    const symbols = unitsFor(lambda, about).map(({ symbol }) => symbol);
    const shown = (symbol: string): number => readingOf(lambda, about, { mixture: symbol }).convert(0.85);
    // λ × stoichiometric ratio, by definition.
    assert.ok(symbols.includes('AFR (E85)') && symbols.includes('AFR (gasoline scale)'), symbols.join(', '));
    assert.ok(Math.abs(shown('AFR (gasoline scale)') - 12.495) < 1e-9);
    assert.ok(Math.abs(shown('φ') - 1 / 0.85) < 1e-12);
    assert.equal(readingOf(lambda, about, {}).symbol, 'λ');
  });

  test('a pressure is shown as the log is written, unless the reader chose otherwise', () => {
    const gauge = readingOf(pressure, about, {});
    assert.equal(gauge.symbol, 'psi gauge');
    // 1 psi is 6.894757 kPa (NIST SP 811).
    assert.ok(Math.abs(gauge.convert(150) - 50 / 6.894757) < 1e-5);
    assert.equal(readingOf(pressure, about, { 'manifold-pressure': 'bar' }).convert(150), 1.5);
  });

  test('times are as fine as the span asks for', () => {
    assert.deepEqual(
      [timeWords(3.14159, 1), timeWords(3.14159, 100), timeWords(59.97, 100), timeWords(3725.25, 8000), timeWords(-2.5, 10)],
      ['0:03.142', '0:03.1', '1:00.0', '1:02:05', '-0:02.50'],
    );
  });
});

suite('view: keys', () => {
  const press = (key: string, held: { shiftKey?: boolean; altKey?: boolean; ctrlKey?: boolean } = {}) =>
    actOf({ key, shiftKey: false, altKey: false, ctrlKey: false, metaKey: false, ...held });

  test('every key that is shown does something, and the editor keeps its own', () => {
    for (const { keys, words } of KEYS) {
      assert.ok(Object.keys(keys).length > 0 && TRACE_WORDS[words]);
      for (const [name, act] of Object.entries(keys)) {
        const parts = name.length > 1 ? name.split('+').filter(Boolean) : [name];
        assert.deepEqual(press(parts.at(-1)!, { shiftKey: parts.includes('Shift'), altKey: parts.includes('Alt') }), act, name);
      }
    }
    assert.equal(press('m', { ctrlKey: true }), undefined);
    assert.equal(press('Tab'), undefined);
    assert.deepEqual(press('M', { shiftKey: true }), { do: 'mark' });
  });
});
