// A table as a picture: each cell with what the sessions say of it, the correction they prove, the injector duty reached there, a pull's way over it.

import { dutyOf } from '../findings/rules/injector-duty-high.js';
import { limitOf } from '../formats/limits.js';
import type { Axis, Table } from '../formats/table.js';
import { numberOf } from '../formats/tableText.js';
import { TABLE_QUANTITIES } from '../formats/tableQuantity.js';
import { EMPTY_VEHICLE } from '../formats/vehicle.js';
import type { CellEvidence, Evidence } from '../fueling/evidence.js';
import { positionOn } from '../fueling/grid.js';
import { MOST_PICTURE_CELLS, type PathParams, type PathResult, type PictureAxis, type PictureCell, type PictureEvidence, type PictureParams, type TablePicture } from '../protocol/table.js';
import { QUANTITIES } from '../quantities/quantity.js';
import type { Signals } from '../signals/signals.js';
import { sampleAtTime } from '../signals/spans.js';
import { createCache } from './cache.js';
import { cellEdits } from './correction.js';
import { delaysOf } from './delays.js';
import type { Documents } from './documents.js';
import type { Weigher } from './evidence.js';
import { traceColumns } from './traceColumns.js';
import { baseName } from './uris.js';
import { sessionsOf } from './vehicleFolders.js';
import type { Progress, Workspace } from './workspace.js';

export interface TablePictureService {
  /** From what has been weighed so far. Undefined for a file that is no table, or is gone. */
  picture(params: PictureParams, maxChangePercent: number, progress?: Progress): Promise<TablePicture | undefined>;
  /** Undefined where the session does not log what the table's axes are of, or has no such run. */
  path(params: PathParams): Promise<PathResult | undefined>;
}

export function createTablePicture(workspace: Workspace, documents: Documents, weigher: Weigher, evidenceNow: Weigher['evidenceSoFar']): TablePictureService {
  const duties = createCache<Float64Array | undefined>(2000);

  const tableAt = async (uri: string): Promise<{ table: Table; text: string } | undefined> => {
    if ((await documents.kindOf(uri))?.kind !== 'table') return undefined;
    const [read, text] = [await documents.table(uri), await documents.text(uri)];
    return read && text !== undefined ? { table: read.value, text } : undefined;
  };

  /** Highest duty by cell over all sessions; each session's is kept, whatever the table's values become. */
  const dutyByCell = async (table: Table, sessions: readonly string[], progress: Progress | undefined): Promise<Float64Array | undefined> => {
    let highest: Float64Array | undefined;
    for (const [done, uri] of sessions.entries()) {
      if (progress?.cancelled) break;
      await progress?.report(done, sessions.length, uri);
      const key = await documents.signalsKey(uri);
      if (key === undefined) continue;
      const one = await duties.get(uri, `${key}|${gridKey(table)}`, async () => {
        const read = await documents.signals(uri);
        return read && dutyOnGrid(read.value, table);
      });
      if (!one) continue;
      highest ??= new Float64Array(one.length).fill(NaN);
      one.forEach((percent, cell) => { if (!(percent <= highest![cell])) highest![cell] = Number.isNaN(percent) ? highest![cell] : percent; });
    }
    return highest;
  };

  return {
    async picture({ uri, duty }, maxChangePercent, progress) {
      const read = await tableAt(uri);
      if (!read) return undefined;
      const { table, text } = read;
      const folder = await documents.vehicleFolder(uri);
      const sessions = folder ? await sessionsOf(workspace, folder) : [];
      const evidence = (await evidenceNow(uri))?.value;
      const percents = duty ? await dutyByCell(table, sessions, progress) : undefined;
      const { limits, injectors } = (folder?.document.vehicle ?? EMPTY_VEHICLE);
      return {
        uri, name: baseName(uri), title: titled(table.quantity && TABLE_QUANTITIES[table.quantity].title, table.unit?.symbol),
        columns: axisOf(table.columns), rows: axisOf(table.rows),
        cells: table.values.length > MOST_PICTURE_CELLS ? [] : cellsOf(table, text, evidence, maxChangePercent, percents), cellCount: table.values.length,
        evidence: evidence ? 'there' : await weigher.isWeighed(uri) ? 'being weighed' : 'none',
        dutyLimitPercent: (limits.injectorDutyPercent === undefined ? injectors.maxDutyPercent : undefined) ?? limitOf('injectorDutyPercent', limits).value,
        dutyKnown: duty ? percents !== undefined : null,
        sessions: sessions.map((session) => ({ uri: session, name: baseName(session) })),
      };
    },

    async path({ uri, session, run }) {
      const table = (await tableAt(uri))?.table;
      const signals = (await documents.kindOf(session))?.kind === 'session' ? (await documents.signals(session))?.value : undefined;
      const sweep = signals && traceColumns(signals).sweeps[run];
      const places = table && signals && placesOn(signals, table);
      if (!table || !signals || !sweep || !places) return undefined;
      const pull = sweep.pull === undefined ? undefined : signals.pulls[sweep.pull];
      const fuelledAt = pull?.worstAt === undefined ? undefined
        : sampleAtTime(signals.timeS, signals.timeS[pull.worstAt] - delaysOf(signals, await weigher.delaySoFar(session)).delaysS[pull.worstAt]);
      return {
        places: thinned(places, sweep.from, sweep.to), worst: fuelledAt === undefined ? null : places(fuelledAt) ?? null,
        worstLambda: pull?.worstLambda ?? null, worstTargetLambda: pull?.worstTargetLambda ?? null,
      };
    },
  };
}

const gridKey = ({ columns, rows }: Table): string => JSON.stringify([columns.quantity, [...columns.canonical], rows.quantity, [...rows.canonical]]);

const titled = (title: string | undefined, symbol: string | undefined): string => [title ?? '', symbol ? `(${symbol})` : ''].filter(Boolean).join(' ');

const finite = (value: number): number | null => (Number.isFinite(value) ? value : null);

const axisOf = (axis: Axis): PictureAxis => ({
  title: titled(axis.quantity && QUANTITIES[axis.quantity].title, axis.unit?.symbol),
  texts: Array.from(axis.values, (value) => (Number.isNaN(value) ? '' : String(value))), values: Array.from(axis.values, finite),
});

function cellsOf(table: Table, text: string, evidence: Evidence | undefined, maxChangePercent: number, duties: Float64Array | undefined): PictureCell[] {
  const width = table.columns.values.length;
  const sound = evidence?.cells.length === table.values.length ? evidence : undefined;
  const written = new Map((sound ? cellEdits(table, text, sound, { maxChangePercent }).correction.cells : []).map((cell) => [cell.row * width + cell.column, cell]));
  return Array.from(table.values, (value, index): PictureCell => {
    const row = Math.floor(index / width), column = index % width;
    const { start, end } = table.cellRange(row, column);
    const said = sound && evidenceOf(sound.cells[index]);
    const proposed = written.get(index);
    const duty = duties?.[index] ?? NaN;
    return {
      text: table.cellText(row, column), value: finite(value), line: start.line, character: start.character, endCharacter: end.character,
      ...(said ? { evidence: said } : {}),
      ...(proposed ? { proposed: { text: proposed.newText, value: numberOf(proposed.newText), capped: proposed.capped } } : {}),
      ...(Number.isFinite(duty) ? { dutyPercent: duty } : {}),
    };
  });
}

function evidenceOf({ proof, samples, measuredLambda, targetLambda, factor, factorLow, factorHigh }: CellEvidence): PictureEvidence | undefined {
  if (proof === 'none' || ![factor, factorLow, factorHigh].every(Number.isFinite)) return undefined;
  return { proof, samples, measuredLambda: finite(measuredLambda), targetLambda: finite(targetLambda), factor, factorLow, factorHigh };
}

type Place = readonly [column: number, row: number];

/** Where the engine stood at a sample, counted in breakpoints; undefined where an axis that has several is not logged. */
function placesOn(signals: Signals, { columns, rows }: Table): ((sample: number) => Place | undefined) | undefined {
  const along = (axis: Axis): ((sample: number) => number) | undefined => {
    if (axis.values.length <= 1) return () => 0;
    const held = axis.quantity && signals.held(axis.quantity);
    return held ? (sample) => positionOn(axis.canonical, held[sample]) : undefined;
  };
  const [column, row] = [along(columns), along(rows)];
  return column && row && ((sample) => {
    const place = [column(sample), row(sample)] as const;
    return place.every(Number.isFinite) ? place : undefined;
  });
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
function dutyOnGrid(signals: Signals, table: Table): Float64Array | undefined {
  const duty = dutyOf(signals), placeAt = placesOn(signals, table);
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
