// What the keys' acts do to a trace: its span, its cursor and mark, its lanes.

import assert from 'node:assert/strict';
import { doAct, type ActedOn } from '../../client/webview/traceActs.js';
import type { Act } from '../../client/webview/keys.js';
import type { Range, ViewState } from '../../client/webview/state.js';
import type { TraceSummary } from '../../server/src/protocol/trace.js';

/** A view of 10 to 20 s of a session of 100 s, with two pulls; what is done to it is noted. */
const viewOf = (change: Partial<ViewState>): { on: ActedOn; done: unknown[]; range: () => Range } => {
  const done: unknown[] = [];
  let range: Range = { from: 10, to: 20 };
  const state = {
    against: 'time',
    lanes: [['lambda'], ['engine-speed']],
    lane: 1,
    units: {},
    fit: false,
    runs: [],
    align: 'start',
    alignRpm: 4000,
    range,
    cursorS: undefined,
    markS: undefined,
    ...change,
  } as unknown as ViewState;
  const runs = [
    { pull: 1, fromS: 5, toS: 8, worstS: 7 },
    { pull: 0, fromS: 30, toS: 33, worstS: null },
    { pull: 2, fromS: 40, toS: 44, worstS: null },
  ];
  const summary = { fromS: 0, toS: 100, stepS: 0.1, runs, spells: [] } as unknown as TraceSummary;
  const on: ActedOn = {
    host: {
      send: (message) => {
        done.push(message);
      },
    },
    state,
    summary,
    wholeRange: { from: 0, to: 100 },
    range: () => range,
    cursor: {
      cursorX: state.cursorS,
      placeAt: (x) => {
        done.push(['place', x]);
      },
      markAt: (x) => {
        done.push(['mark', x]);
      },
      unmark: () => {
        done.push('unmark');
      },
    },
    set: (next) => {
      done.push(next);
    },
    setRange: (next) => {
      range = next;
    },
    show: (...span) => {
      done.push(span);
    },
    openSpell: (spell) => {
      done.push(spell);
    },
    showHelp: () => {
      done.push('help');
    },
  };
  return { on, done, range: () => range };
};

const after = (act: Act, change: Partial<ViewState> = {}, lane = 1): { done: unknown[]; range: Range } => {
  const { on, done, range } = viewOf(change);
  doAct(on, act, lane);
  return { done, range: range() };
};

suite('Acts of the trace', () => {
  test('zooming keeps the cursor where it is, and the middle where the cursor is out of sight', () => {
    assert.deepEqual(after({ do: 'zoom', factor: 0.5 }, { cursorS: 12 }).range, { from: 11, to: 16 });
    assert.deepEqual(after({ do: 'zoom', factor: 0.5 }, { cursorS: 90 }).range, { from: 12.5, to: 17.5 });
  });

  test('a cursor that leaves the span takes it along', () => {
    const { done, range } = after({ do: 'cursor', by: 0.5 }, { cursorS: 18 });
    assert.deepEqual(range, { from: 13, to: 23 });
    assert.deepEqual(done, [['place', 23]]);
  });

  test('the mark is set at the cursor, and taken away where there is one', () => {
    assert.deepEqual(after({ do: 'mark' }, { cursorS: 13 }).done, [['mark', 13]]);
    assert.deepEqual(after({ do: 'mark' }, { cursorS: 13, markS: 15 }).done, ['unmark']);
  });

  test('the next pull is shown at its worst moment, else at its start; sweeps are passed over', () => {
    assert.deepEqual(after({ do: 'pull', by: 1 }).done, [[40, 44, 40]]);
    assert.deepEqual(after({ do: 'pull', by: -1 }).done, [[5, 8, 7]]);
  });

  test('the last lane stays', () => {
    assert.deepEqual(after({ do: 'laneRemove' }, { lanes: [['lambda']], lane: 0 }, 0).done, [{ lanes: [['lambda']] }]);
    assert.deepEqual(after({ do: 'laneRemove' }, {}, 1).done, [{ lanes: [['lambda']] }]);
  });

  test('row and cell want a cursor', () => {
    assert.deepEqual(after({ do: 'row' }).done, []);
    assert.deepEqual(after({ do: 'cell' }, { cursorS: 12 }).done, [{ type: 'openCell', timeS: 12 }]);
  });
});
