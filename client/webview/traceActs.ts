// What each act of a key or a button does to the trace.

import type { TraceSpell, TraceSummary } from '../../server/src/protocol/trace.js';
import { EVERY_WAY } from './bar.js';
import type { CursorAndMark } from './cursorAndMark.js';
import type { Act } from './keys.js';
import { laneJoined, laneMoved, moved, neighbour, withoutLane, zoomed, type Range, type ViewState } from './state.js';
import type { TraceHost } from './view.js';

/** The parts of a view that an act reaches. */
export interface ActedOn {
  readonly host: Pick<TraceHost, 'send'>;
  readonly state: ViewState;
  readonly summary: TraceSummary;
  readonly cursor: Pick<CursorAndMark, 'cursorX' | 'placeAt' | 'markAt' | 'unmark'>;
  /** All that can be shown. */
  readonly wholeRange: Range;
  /** What is shown now. */
  range(): Range;
  set(change: Partial<ViewState>): void;
  setRange(range: Range): void;
  show(fromS: number, toS: number, atS: number): void;
  openSpell(spell: TraceSpell): void;
  showHelp(): void;
}

/** `lane` is the one that the act is about. */
export function doAct(on: ActedOn, act: Act, lane: number): void {
  const { state, summary } = on;
  const range = on.range();
  const width = range.to - range.from;
  const middle = (range.from + range.to) / 2;
  const cursor = on.cursor.cursorX ?? middle;
  const inside = cursor >= range.from && cursor <= range.to ? cursor : middle;
  const kept = (index: number): number => Math.min(state.lanes.length - 1, Math.max(0, index));
  switch (act.do) {
    case 'cursor':
      return putCursor(on, inside + act.by * width);
    case 'sample':
      return putCursor(on, inside + act.by * (state.against === 'time' ? summary.stepS : width / 500));
    case 'zoom':
      return on.setRange(zoomed(range, act.factor, inside));
    case 'pan':
      return on.setRange(moved(range, act.by * width));
    case 'end':
      return on.setRange(
        moved(range, state.against !== 'time' ? 0 : act.at === 'from' ? summary.fromS - range.from : summary.toS - range.to),
      );
    case 'whole':
      return on.setRange(on.wholeRange);
    case 'mark':
      return state.markS === undefined ? on.cursor.markAt(inside) : on.cursor.unmark();
    case 'switch':
      return on.set({ against: EVERY_WAY[(EVERY_WAY.indexOf(state.against) + 1) % EVERY_WAY.length] });
    case 'finding': {
      const spell = neighbour(summary.spells, state.cursorS ?? range.from, act.by);
      return spell && on.openSpell(spell);
    }
    case 'pull': {
      const run = neighbour(
        summary.runs.filter(({ pull }) => pull > 0),
        middle,
        act.by,
      );
      return run && on.show(run.fromS, run.toS, run.worstS ?? run.fromS);
    }
    case 'row':
      return state.cursorS === undefined ? undefined : on.host.send({ type: 'openRow', timeS: state.cursorS });
    case 'cell':
      return state.cursorS === undefined ? undefined : on.host.send({ type: 'openCell', timeS: state.cursorS });
    case 'lane':
      return on.set({ lane: kept(state.lane + act.by) });
    case 'laneMove':
      return on.set({ lanes: laneMoved(state.lanes, lane, act.by), lane: kept(lane + act.by) });
    case 'laneJoin':
      return on.set({ lanes: laneJoined(state.lanes, lane), lane: Math.max(0, lane - 1) });
    case 'laneRemove':
      return on.set({ lanes: state.lanes.length > 1 ? withoutLane(state.lanes, lane) : state.lanes });
    case 'fit':
      return on.set({ fit: !state.fit });
    case 'help':
      return on.showHelp();
  }
}

/** The view follows a cursor that leaves it. */
function putCursor(on: ActedOn, x: number): void {
  const before = on.range();
  if (x < before.from || x > before.to) on.setRange(moved(before, x < before.from ? x - before.from : x - before.to));
  const { from, to } = on.range();
  on.cursor.placeAt(Math.min(to, Math.max(from, x)));
}
