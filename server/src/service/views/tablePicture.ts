// A table as a picture: each cell with what the sessions say of it, the correction they prove, the injector duty reached there, a pull's
// way over it.

import { limitOf } from '../../formats/limits.js';
import type { Axis, Table } from '../../formats/table/table.js';
import { numberOf } from '../../formats/table/tableText.js';
import { TABLE_QUANTITIES } from '../../formats/table/tableQuantity.js';
import { EMPTY_VEHICLE } from '../../formats/vehicle/vehicle.js';
import type { CellEvidence, Evidence } from '../../fueling/evidence.js';
import {
  MOST_PICTURE_CELLS,
  type PathParams,
  type PathResult,
  type PictureAxis,
  type PictureCell,
  type PictureEvidence,
  type PictureParams,
  type TablePicture,
} from '../../protocol/table.js';
import { QUANTITIES } from '../../quantities/quantity.js';
import { createCache } from '../cache.js';
import { cellEdits } from '../correction.js';
import type { Documents } from '../documents.js';
import type { Weigher } from '../evidence.js';
import type { FuelOf } from '../fuelOf.js';
import { baseName } from '../uris.js';
import { sessionsOf } from '../vehicleFolders.js';
import type { Progress, Workspace } from '../workspace.js';

export interface TablePictureService {
  /** From what has been weighed so far. Undefined for a file that is no table, or is gone. */
  picture(params: PictureParams, maxChangePercent: number, progress?: Progress): Promise<TablePicture | undefined>;
  /** Undefined where the session does not log what the table's axes are of, or has no such run. */
  path(params: PathParams): Promise<PathResult | undefined>;
}

interface Read {
  readonly table: Table;
  readonly text: string;
}

export function createTablePicture(
  workspace: Workspace,
  documents: Documents,
  weigher: Weigher,
  evidenceNow: Weigher['evidenceSoFar'],
  fuelOf: FuelOf,
): TablePictureService {
  const duties = createCache<Float64Array | undefined>(2000);

  const tableAt = async (uri: string): Promise<Read | undefined> => {
    if ((await documents.kindOf(uri))?.kind !== 'table') return undefined;
    const [read, text] = [await documents.table(uri), await documents.text(uri)];
    return read && text !== undefined ? { table: read.value, text } : undefined;
  };

  /** Highest duty by cell over all sessions; each session's is kept, whatever the table's values become. */
  const dutyByCell = async (
    { table, text }: Read,
    sessions: readonly string[],
    progress: Progress | undefined,
  ): Promise<Float64Array | undefined> => {
    let highest: Float64Array | undefined;
    for (const [done, uri] of sessions.entries()) {
      if (progress?.cancelled) break;
      await progress?.report(done, sessions.length, uri);
      const key = await documents.signalsKey(uri);
      if (key === undefined) continue;
      const one = await duties.get(uri, `${key}|${gridKey(table)}`, async () => (await documents.ask(uri, 'duty', text, false))?.value);
      if (!one) continue;
      highest ??= new Float64Array(one.length).fill(NaN);
      one.forEach((percent, cell) => {
        if (!(percent <= highest![cell])) highest![cell] = Number.isNaN(percent) ? highest![cell] : percent;
      });
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
      const percents = duty ? await dutyByCell(read, sessions, progress) : undefined;
      const { limits, injectors } = folder?.document.vehicle ?? EMPTY_VEHICLE;
      return {
        uri,
        name: baseName(uri),
        title: titled(table.quantity && TABLE_QUANTITIES[table.quantity].title, table.unit?.symbol),
        columns: axisOf(table.columns),
        rows: axisOf(table.rows),
        cells: table.values.length > MOST_PICTURE_CELLS ? [] : cellsOf(table, text, evidence, maxChangePercent, percents),
        cellCount: table.values.length,
        evidence: evidence ? 'there' : (await weigher.isWeighed(uri)) ? 'being weighed' : 'none',
        dutyLimitPercent:
          (limits.injectorDutyPercent === undefined ? injectors.maxDutyPercent : undefined) ?? limitOf('injectorDutyPercent', limits).value,
        dutyKnown: duty ? percents !== undefined : null,
        sessions: sessions.map((session) => ({ uri: session, name: baseName(session) })),
      };
    },

    async path({ uri, session, run }) {
      const table = await tableAt(uri);
      if (!table || (await documents.kindOf(session))?.kind !== 'session') return undefined;
      return (await documents.ask(session, 'way', { table: table.text, run, ...(await fuelOf(session)) }))?.value;
    },
  };
}

const gridKey = ({ columns, rows }: Table): string =>
  JSON.stringify([columns.quantity, [...columns.canonical], rows.quantity, [...rows.canonical]]);

const titled = (title: string | undefined, symbol: string | undefined): string =>
  [title ?? '', symbol ? `(${symbol})` : ''].filter(Boolean).join(' ');

const finite = (value: number): number | null => (Number.isFinite(value) ? value : null);

const axisOf = (axis: Axis): PictureAxis => ({
  title: titled(axis.quantity && QUANTITIES[axis.quantity].title, axis.unit?.symbol),
  texts: Array.from(axis.values, (value) => (Number.isNaN(value) ? '' : String(value))),
  values: Array.from(axis.values, finite),
});

function cellsOf(
  table: Table,
  text: string,
  evidence: Evidence | undefined,
  maxChangePercent: number,
  duties: Float64Array | undefined,
): PictureCell[] {
  const width = table.columns.values.length;
  const sound = evidence?.cells.length === table.values.length ? evidence : undefined;
  const written = new Map(
    (sound ? cellEdits(table, text, sound, { maxChangePercent }).correction.cells : []).map((cell) => [
      cell.row * width + cell.column,
      cell,
    ]),
  );
  return Array.from(table.values, (value, index): PictureCell => {
    const row = Math.floor(index / width),
      column = index % width;
    const { start, end } = table.cellRange(row, column);
    const said = sound && evidenceOf(sound.cells[index]);
    const proposed = written.get(index);
    const duty = duties?.[index] ?? NaN;
    return {
      text: table.cellText(row, column),
      value: finite(value),
      line: start.line,
      character: start.character,
      endCharacter: end.character,
      ...(said ? { evidence: said } : {}),
      ...(proposed ? { proposed: { text: proposed.newText, value: numberOf(proposed.newText), capped: proposed.capped } } : {}),
      ...(Number.isFinite(duty) ? { dutyPercent: duty } : {}),
    };
  });
}

function evidenceOf({
  proof,
  samples,
  measuredLambda,
  targetLambda,
  factor,
  factorLow,
  factorHigh,
}: CellEvidence): PictureEvidence | undefined {
  if (proof === 'none' || ![factor, factorLow, factorHigh].every(Number.isFinite)) return undefined;
  return { proof, samples, measuredLambda: finite(measuredLambda), targetLambda: finite(targetLambda), factor, factorLow, factorHigh };
}
