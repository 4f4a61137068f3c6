// The view's state: default lanes, steps on lanes and ranges, what a reload brings back.

import assert from 'node:assert/strict';
import {
  firstState,
  laneJoined,
  laneMoved,
  lanesFor,
  moved,
  restored,
  takenOut,
  usualLanes,
  within,
  withChannel,
  without,
  withoutLane,
  zoomed,
} from '../../client/webview/state.js';
import type { TraceChannel, TraceSummary } from '../../server/src/protocol/trace.js';
import { QUANTITIES, type QuantityId } from '../../server/src/quantities/quantity.js';

const channel = (id: QuantityId): TraceChannel => ({
  id,
  name: id,
  quantity: id,
  unit: QUANTITIES[id].unit,
  writtenUnit: QUANTITIES[id].unit,
  symbol: '',
  derived: false,
});
const unknown = (id: string): TraceChannel => ({ id, name: id, unit: undefined, writtenUnit: undefined, symbol: '', derived: false });
const summary = (channels: readonly TraceChannel[]): TraceSummary => ({
  uri: 'file:///a.session.csv',
  name: 'a.session.csv',
  key: '1',
  samples: 100,
  fromS: 0,
  toS: 100,
  stepS: 1,
  channels,
  recordings: [[0, 100]],
  barometerKPa: 100,
  leanLimit: 0.05,
  spells: [],
  runs: [
    { pull: 1, direction: 'up', fromS: 10, toS: 20, fromRpm: 2000, toRpm: 7000, words: '' },
    { pull: 0, direction: 'down', fromS: 20, toS: 25, fromRpm: 7000, toRpm: 2000, words: '' },
  ],
});

suite('view: lanes', () => {
  test('the usual lanes, as far as the log has their channels', () => {
    assert.deepEqual(
      usualLanes(
        (['engine-speed', 'lambda', 'target-lambda', 'throttle', 'manifold-pressure', 'knock-retard', 'coolant-temperature'] as const).map(
          channel,
        ),
      ),
      [['lambda', 'target-lambda'], ['manifold-pressure', 'throttle'], ['engine-speed'], ['knock-retard'], ['coolant-temperature']],
    );
  });

  test('a log of a port without wideband shows its trims; one of unknown channels its first', () => {
    assert.deepEqual(usualLanes((['engine-speed', 'mass-air-flow', 'short-term-fuel-trim', 'long-term-fuel-trim'] as const).map(channel)), [
      ['short-term-fuel-trim', 'long-term-fuel-trim'],
      ['mass-air-flow'],
      ['engine-speed'],
    ]);
    assert.deepEqual(usualLanes(['a', 'b', 'c', 'd', 'e'].map(unknown)), [['a'], ['b'], ['c'], ['d']]);
    assert.deepEqual(usualLanes([]), []);
  });

  test('kept lanes lose what another session lacks', () => {
    assert.deepEqual(lanesFor([channel('lambda'), channel('throttle')], [['throttle', 'gear'], ['gear'], ['lambda']]), [
      ['throttle'],
      ['lambda'],
    ]);
    assert.deepEqual(lanesFor([channel('lambda')], [['gear']]), [['lambda']]);
  });

  test('every step leaves no empty lane and no channel twice', () => {
    const lanes = [['a', 'b'], ['c']];
    assert.deepEqual(laneMoved(lanes, 0, 1), [['c'], ['a', 'b']]);
    assert.deepEqual(laneMoved(lanes, 0, -1), lanes);
    assert.deepEqual(laneJoined(lanes, 1), [['a', 'b', 'c']]);
    assert.deepEqual(laneJoined(lanes, 0), lanes);
    assert.deepEqual(takenOut(lanes, 'a'), [['b'], ['a'], ['c']]);
    assert.deepEqual(takenOut(lanes, 'c'), lanes);
    assert.deepEqual(without(lanes, 'c'), [['a', 'b']]);
    assert.deepEqual(withChannel(lanes, 'd'), [['a', 'b'], ['c'], ['d']]);
    assert.deepEqual(withChannel(lanes, 'b'), lanes);
    assert.deepEqual(withoutLane(lanes, 0), [['c']]);
  });
});

suite('view: range', () => {
  const whole = { from: 0, to: 100 };

  test('a zoom keeps the point under the pointer', () => {
    const { from, to } = zoomed({ from: 10, to: 50 }, 0.5, 20);
    assert.deepEqual([from, to], [15, 35]);
    assert.equal((20 - 10) / 40, (20 - from) / (to - from));
  });

  test('a range stays in the session and is never shorter than asked', () => {
    assert.deepEqual(within(moved({ from: 80, to: 100 }, 30), whole, 1), { from: 80, to: 100 });
    assert.deepEqual(within({ from: -50, to: 400 }, whole, 1), whole);
    assert.deepEqual(within({ from: 50, to: 50.2 }, whole, 1), { from: 49.6, to: 50.6 });
    assert.deepEqual(within({ from: 99.9, to: 100.1 }, whole, 1), { from: 99, to: 100 });
  });
});

suite('view: after a reload', () => {
  const of = summary([channel('lambda'), channel('throttle')]);

  test('what was kept comes back', () => {
    const state = {
      ...firstState(of, null),
      range: { from: 10, to: 20 },
      cursorS: 12,
      markS: 15,
      lanes: [['throttle'], ['lambda']],
      against: 'overlay' as const,
      units: { throttle: 'fraction' },
      fit: true,
    };
    assert.deepEqual(restored(JSON.parse(JSON.stringify(state)), of), state);
  });

  test("another session's state, or none, is none", () => {
    for (const value of [
      undefined,
      null,
      3,
      {},
      { ...firstState(of, null), uri: 'file:///b' },
      { ...firstState(of, null), range: { from: 5, to: 5 } },
    ])
      assert.equal(restored(value, of), undefined);
  });

  test('a session that shrank keeps what is left', () => {
    const state = restored(
      {
        ...firstState(of, null),
        range: { from: 90, to: 500 },
        runs: [
          { uri: of.uri, run: 7 },
          { uri: of.uri, run: 0 },
        ],
      },
      of,
    )!;
    assert.deepEqual(state.range, { from: 0, to: 100 });
    assert.deepEqual(state.runs, [{ uri: of.uri, run: 0 }]);
  });
});
