// Lines that share a colour: told apart by their dashes, and in words.

import assert from 'node:assert/strict';
import { RUN_ROUNDS, runDash } from '../../client/webview/dashes.js';
import { runLegend } from '../../client/webview/laneViews.js';
import type { TraceSummary } from '../../server/src/protocol/trace.js';
import { TRACE_WORDS } from '../../server/src/protocol/traceWords.js';

suite('view: dashes', () => {
  test('of runs that share a colour no two lines are alike, whichever way they go and whichever channel they show', () => {
    const lines = Array.from({ length: RUN_ROUNDS }, (_, round) =>
      [false, true].flatMap((down) => [0, 1, 2, 3].map((channel) => runDash(round, down, channel).join(' '))),
    ).flat();
    assert.equal(new Set(lines).size, lines.length);
  });

  test('a legend of more runs than colours tells them apart in lines and in words', () => {
    const runs = Array.from({ length: 12 }, (_, k) => ({ pull: k + 1, direction: 'up', fromS: k }));
    const summary = { uri: 'a', name: 'a.session.csv', runs } as unknown as TraceSummary;
    const refs = runs.map((_, run) => ({ uri: 'a', run }));
    // Five colours, as on a light ground.
    const legend = runLegend(summary, [], { refs, channels: [], tables: [], offsetsS: [] }, TRACE_WORDS, 5);
    assert.equal(new Set(legend.map(({ colour, dash }) => `${colour % 5} ${dash.join(' ')}`)).size, 12);
    assert.deepEqual(
      [0, 4, 5, 9, 10, 11].map((at) => legend[at]!.name),
      ['Pull 1', 'Pull 5', 'Pull 6 (short dashes)', 'Pull 10 (short dashes)', 'Pull 11 (long dashes)', 'Pull 12 (long dashes)'],
    );
  });
});
