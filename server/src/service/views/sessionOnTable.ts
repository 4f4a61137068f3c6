// A session seen on a table: the way of a run over it, and the injector duty reached in its cells.

import { dutyOf } from '../../signals/distress.js';
import { readTable } from '../../formats/table/readTable.js';
import type { Axis, Table } from '../../formats/table/table.js';
import { positionOn } from '../../fueling/solution/grid.js';
import type { PathResult } from '../../protocol/table.js';
import type { Signals } from '../../signals/signals.js';
import { sampleAtTime } from '../../signals/columns/spans.js';
import { traceColumns } from './traceColumns.js';

type Place = readonly [column: number, row: number];

/** Where the engine stood at a sample, counted in breakpoints; undefined where an axis that has several is not logged. */
function placesOn(signals: Signals, { columns, rows }: Table): ((sample: number) => Place | undefined) | undefined {
  const along = (axis: Axis): ((sample: number) => number) | undefined => {
    if (axis.values.length <= 1) return () => 0;
    const held = axis.quantity && signals.held(axis.quantity);
    return held ? (sample) => positionOn(axis.canonical, held[sample]) : undefined;
  };
  const [column, row] = [along(columns), along(rows)];
  return (
    column &&
    row &&
    ((sample) => {
      const place = [column(sample), row(sample)] as const;
      return place.every(Number.isFinite) ? place : undefined;
    })
  );
}

/** `table`: its text; `run`: by its place in the summary's list; `delaysS`: one a sample. */
export interface WayQuestion {
  readonly table: string;
  readonly run: number;
  readonly delaysS: Float64Array;
}

/** Undefined where the session does not log what the table's axes are of, or has no such run. */
export function wayOf(signals: Signals, { table, run, delaysS }: WayQuestion): PathResult | undefined {
  const sweep = traceColumns(signals).sweeps[run],
    places = placesOn(signals, readTable(table));
  if (!sweep || !places) return undefined;
  const pull = sweep.pull === undefined ? undefined : signals.pulls[sweep.pull];
  const fuelledAt =
    pull?.worstAt === undefined ? undefined : sampleAtTime(signals.timeS, signals.timeS[pull.worstAt] - delaysS[pull.worstAt]);
  return {
    places: thinned(places, sweep.from, sweep.to),
    worst: fuelledAt === undefined ? null : (places(fuelledAt) ?? null),
    worstLambda: pull?.worstLambda ?? null,
    worstTargetLambda: pull?.worstTargetLambda ?? null,
  };
}

/** A way has no more places than this. */
const MOST_PLACES = 400;

function thinned(placeAt: (sample: number) => Place | undefined, from: number, to: number): Place[] {
  const every = Math.max(1, Math.ceil((to - from) / MOST_PLACES));
  const places: Place[] = [];
  for (let sample = from; sample < to; sample += every) {
    const place = placeAt(sample);
    if (place) places.push([Number(place[0].toFixed(3)), Number(place[1].toFixed(3))]);
  }
  return places;
}

/** Highest duty among the samples nearest to each cell; undefined where the session does not tell duty or place. */
export function dutyOnGrid(signals: Signals, table: Table): Float64Array | undefined {
  const duty = dutyOf(signals),
    placeAt = placesOn(signals, table);
  if (!duty || !placeAt) return undefined;
  const width = table.columns.values.length;
  const highest = new Float64Array(table.values.length).fill(NaN);
  duty.values.forEach((percent, sample) => {
    if (Number.isNaN(percent)) return;
    const place = placeAt(sample);
    if (!place) return;
    const cell = Math.round(place[1]) * width + Math.round(place[0]);
    if (!(percent <= highest[cell])) highest[cell] = percent;
  });
  return highest;
}
