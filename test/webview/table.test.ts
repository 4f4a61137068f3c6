// The table's picture without a page: the published colours, sides and steps, selecting, slices, ways, and the words for who sees none of
// it.

import assert from 'node:assert/strict';
import colorbrewer from 'colorbrewer';
import { TABLE_KEYS, tableActOf } from '../../client/webview/tableKeys.js';
import { aroundOf, colourOf, markOf, PU_OR, STEPS } from '../../client/webview/tableScale.js';
import { sliceHeights, sliceOf } from '../../client/webview/tableSlice.js';
import { cellWordsOf, detailWords, placeWords, selectionWords, unitOf } from '../../client/webview/tableSpeech.js';
import {
  cellsMeant,
  cellsTouched,
  firstTableState,
  keptOf,
  rectangle,
  restoredTable,
  spansOfCells,
  stepped,
} from '../../client/webview/tableState.js';
import { pixelOf } from '../../client/webview/tableWay.js';
import { ticks } from '../../client/webview/ticks.js';
import type { PictureCell, PictureEvidence, TablePicture } from '../../server/src/protocol/table.js';
import { TABLE_WORDS as words } from '../../server/src/protocol/tableWords.js';

const said = (factor: number, half = 0.01, proof: 'firm' | 'thin' = 'firm'): PictureEvidence => ({
  proof,
  samples: 40,
  measuredLambda: 0.9,
  targetLambda: 0.85,
  factor,
  factorLow: factor - half,
  factorHigh: factor + half,
});
/** Two rows of three; numbers of four characters, two apart, on lines 4 and 5. */
const cells: PictureCell[] = (
  [
    [50, said(1.2)],
    [60, said(1.05)],
    [70, said(1)],
    [80, said(0.95, 0.05, 'thin')],
    [90, undefined],
    [100, said(0.85)],
  ] as const
).map(([value, evidence], at) => ({
  text: value.toFixed(1),
  value,
  line: 4 + Math.floor(at / 3),
  character: 6 * (at % 3),
  endCharacter: 6 * (at % 3) + 4,
  ...(evidence ? { evidence } : {}),
  ...(at === 1 ? { proposed: { text: '62.4', value: 62.4, capped: false } } : {}),
}));
const picture: TablePicture = {
  uri: 'file:///t',
  name: 't',
  title: 'volumetric efficiency (%)',
  cells,
  cellCount: 6,
  evidence: 'there',
  dutyLimitPercent: 85,
  dutyKnown: null,
  sessions: [{ uri: 'file:///s', name: 's' }],
  columns: { title: 'engine speed (rpm)', texts: ['1000', '2000', '4000'], values: [1000, 2000, 4000] },
  rows: { title: 'manifold pressure (kPa)', texts: ['40', '100'], values: [40, 100] },
};
const around = aroundOf(picture);
const mark = (cell: Partial<PictureCell>, shown: 'value' | 'factor' | 'evidence' | 'duty') =>
  markOf({ ...cells[4]!, ...cell }, shown, around, words);

suite('table picture: scale', () => {
  test('the colours are PuOr as ColorBrewer publishes it, on both grounds', () => {
    assert.deepEqual([...PU_OR], colorbrewer.PuOr[7]);
    assert.deepEqual(STEPS.map((step) => colourOf(step, false)).reverse(), colorbrewer.PuOr[7]);
    assert.deepEqual(new Set(STEPS.map((step) => colourOf(step, true))), new Set(colorbrewer.PuOr[7]));
    for (const step of [1, 2, 3] as const)
      assert.ok(PU_OR.indexOf(colourOf(step, true) as never) < 3, 'lean keeps its hue on a dark ground');
  });

  test('the more a factor differs from 1 the longer the bar: lean to the right, rich to the left', () => {
    const sizes = [0.85, 0.95, 0.995, 1.005, 1.02, 1.05, 1.2].map((factor) => mark({ evidence: said(factor) }, 'factor'));
    assert.deepEqual(
      sizes.map(({ step }) => step),
      [-3, -2, 0, 0, 1, 2, 3],
    );
    sizes.reduce((before, next) => {
      assert.ok(next.size >= before.size);
      return next;
    });
    assert.equal(sizes.at(-1)!.size, 1);
    assert.match(sizes.at(-1)!.words, /^lean: 20\.0 % short of fuel, firm$/);
    assert.match(sizes[0]!.words, /^rich: 15\.0 % too much fuel/);
    assert.equal(mark({}, 'factor').words, words.none);
  });

  test('firm evidence is on the right, thin on the left; duty over its limit on the right', () => {
    const firm = mark({ evidence: said(1.1, 0.005) }, 'evidence'),
      wider = mark({ evidence: said(1.1, 0.02) }, 'evidence'),
      thin = mark({ evidence: said(1.1, 0.08, 'thin') }, 'evidence');
    assert.ok(firm.size > wider.size && wider.size > 0 && thin.size < 0);
    assert.equal(firm.text, '±0.5');
    assert.ok(
      mark({ dutyPercent: 86 }, 'duty').step > 0 &&
        mark({ dutyPercent: 100 }, 'duty').step === 3 &&
        mark({ dutyPercent: 40 }, 'duty').step < 0 &&
        mark({ dutyPercent: 84 }, 'duty').step === 0,
    );
    assert.match(mark({ dutyPercent: 91 }, 'duty').words, /over the limit of 85 %/);
    assert.deepEqual(
      cells.map((cell) => Math.sign(markOf(cell, 'value', around, words).size)),
      [-1, -1, -1, 1, 1, 1],
    );
  });
});

suite('table picture: selecting', () => {
  test('a command is for the selected cells, or for the one in focus beside them', () => {
    assert.deepEqual([...cellsMeant({ selected: rectangle(0, 4, 3), focus: 4 })], [0, 1, 3, 4]);
    assert.deepEqual([...cellsMeant({ selected: new Set([0, 1]), focus: 5 })], [5]);
  });

  test('a rectangle, and steps that stay in the grid', () => {
    assert.deepEqual([...rectangle(5, 1, 3)].sort(), [1, 2, 4, 5]);
    assert.deepEqual(
      [stepped(4, 1, 0, 3, 2), stepped(4, -1, 0, 3, 2), stepped(4, 0, 9, 3, 2), stepped(0, -5, -5, 3, 2), stepped(0, 1e6, 1e6, 3, 2)],
      [4, 1, 5, 0, 5],
    );
  });

  test('cells to the text and back are the same cells', () => {
    for (const selected of [[0], [0, 1, 2, 3, 4, 5], [1, 5]]) {
      const spans = spansOfCells(cells, new Set(selected), selected[0]!);
      assert.deepEqual(cellsTouched(cells, spans).sort(), selected);
    }
    assert.equal(spansOfCells(cells, new Set([1, 5]), 5)[0]!.startCharacter, cells[5]!.character);
  });

  test('a text selection takes what it touches; a bare cursor the number that it stands at', () => {
    const touched = (startLine: number, startCharacter: number, endLine: number, endCharacter: number) =>
      cellsTouched(cells, [{ startLine, startCharacter, endLine, endCharacter }]);
    assert.deepEqual(touched(4, 6, 4, 6), [1]);
    assert.deepEqual(touched(4, 10, 4, 10), [1]);
    assert.deepEqual(touched(4, 5, 4, 5), []);
    assert.deepEqual(touched(4, 4, 4, 7), [1]);
    assert.deepEqual(touched(4, 13, 5, 1), [2, 3]);
    assert.deepEqual(touched(0, 0, 3, 0), []);
  });

  test('the state comes back, of this table only, and what is no longer there is let go', () => {
    const state = {
      ...firstTableState(picture),
      shown: 'evidence' as const,
      along: 'column' as const,
      focus: 4,
      anchor: 1,
      selected: new Set([1, 4]),
      path: { session: 'file:///s', run: 2 },
    };
    assert.deepEqual(restoredTable(JSON.parse(JSON.stringify(keptOf(state))), picture), state);
    for (const other of [undefined, null, 3, {}, { uri: 'file:///u' }]) assert.equal(restoredTable(other, picture), undefined);
    const smaller = { ...picture, cells: cells.slice(0, 3), sessions: [] };
    assert.deepEqual(restoredTable(keptOf(state), smaller), { ...state, focus: 0, selected: new Set([1]), path: undefined });
  });

  test('every key that is shown does something, and the editor keeps its own', () => {
    for (const { keys, words: does } of TABLE_KEYS) {
      assert.ok(words[does]);
      for (const [name, act] of Object.entries(keys)) {
        const parts = name.split('+');
        assert.deepEqual(
          tableActOf({
            key: parts.at(-1)!,
            ctrlKey: parts.includes('Ctrl'),
            shiftKey: parts.includes('Shift'),
            altKey: false,
            metaKey: false,
          }),
          act,
          name,
        );
      }
    }
    for (const key of ['Tab', 'F6', 'z'])
      assert.equal(tableActOf({ key, ctrlKey: key === 'z', shiftKey: false, altKey: false, metaKey: false }), undefined);
  });
});

suite('table picture: slices and ways', () => {
  test('a slice runs along the row or the column of the cell', () => {
    const row = sliceOf(picture, 4, 'row');
    assert.deepEqual(
      row.map(({ x, value }) => [x, value]),
      [
        [1000, 80],
        [2000, 90],
        [4000, 100],
      ],
    );
    assert.equal(row[1]!.interval, null);
    const column = sliceOf(picture, 4, 'column');
    assert.deepEqual(
      column.map(({ x, value, proposed }) => [x, value, proposed]),
      [
        [40, 60, 62.4],
        [100, 90, null],
      ],
    );
    const [low, high] = column[0]!.interval!;
    assert.ok(Math.abs(low - 60 * 1.04) < 1e-9 && Math.abs(high - 60 * 1.06) < 1e-9);
  });

  test('thin evidence does not press the curve flat', () => {
    const wild = sliceOf(
      { ...picture, cells: cells.map((cell, at) => (at === 3 ? { ...cell, evidence: said(1, 20, 'thin') } : cell)) },
      3,
      'row',
    );
    const [low, high] = sliceHeights(wild);
    assert.ok(low < 80 && high > 100 && high - low < 60, `${low} to ${high}`);
    assert.deepEqual(sliceHeights([]), [0, 1]);
  });

  test('a place between breakpoints lies between the middles of its cells', () => {
    assert.deepEqual(
      [0, 0.5, 1, 1.25, 2].map((at) => pixelOf([10, 30, 70], at)),
      [10, 20, 30, 40, 70],
    );
    assert.deepEqual([pixelOf([10], 0), pixelOf([], 0)], [10, 0]);
  });

  test('round numbers along an axis', () => {
    assert.deepEqual(
      ticks(0, 1, 5).map(({ text }) => text),
      ['0.0', '0.2', '0.4', '0.6', '0.8', '1.0'],
    );
    assert.deepEqual(
      ticks(77, 103, 3).map(({ text }) => text),
      ['80', '90', '100'],
    );
    assert.deepEqual(
      ticks(-0.05, 0.05, 2).map(({ text }) => text),
      ['-0.05', '0.00', '0.05'],
    );
    assert.deepEqual([ticks(1, 1, 3), ticks(NaN, 2, 3), ticks(0, 1, 0)], [[], [], []]);
  });
});

suite('table picture: words', () => {
  test('a cell, its place and several cells in words', () => {
    assert.equal(
      cellWordsOf(cells[1]!, markOf(cells[1]!, 'factor', around, words), picture, words),
      '60.0 %; lean: 5.0 % short of fuel, firm; proposed 62.4',
    );
    assert.equal(placeWords(picture, 5, words), '4000 rpm, 100 kPa');
    assert.deepEqual(detailWords(picture, cells[4]!, words), [words.noneMore]);
    assert.match(
      detailWords(picture, cells[3]!, words).join('. '),
      /rich: 5\.0 % .*95 % between 0\.900 and 1\.000 \(known to within 5\.0 %\)\. thin: 40 samples/,
    );
    assert.deepEqual(selectionWords(cells, words), ['6 cells selected', '4 firm, 1 thin, 1 never visited. Values 50 to 100.']);
    assert.deepEqual([unitOf('engine speed (rpm)'), unitOf('target AFR (AFR (E85))'), unitOf('multiplier')], ['rpm', 'AFR (E85)', '']);
  });
});
