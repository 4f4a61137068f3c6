// The product under judgement, by its public seams: texts of a vehicle folder in, the JSON of `weigh` out.

import { readSession } from '../../../server/src/formats/session/readSession.js';
import { readTable } from '../../../server/src/formats/table/readTable.js';
import { readVehicle } from '../../../server/src/formats/vehicle/readVehicle.js';
import { textSource } from '../../../server/src/formats/source.js';
import { judge, weighSession } from '../../../server/src/fueling/weigh.js';
import { analyse } from '../../../server/src/signals/analyse.js';
import type { VehicleFiles } from '../simulator/index.js';

/** What of `weigh --format json` is judged. */
export interface WeighResult {
  readonly transportDelay: readonly {
    readonly session: string;
    readonly estimated: boolean;
    readonly medianS: number;
    readonly byFlow: readonly (readonly [flowGPerS: number, seconds: number])[];
  }[];
  readonly cells: readonly {
    readonly row: number;
    readonly column: number;
    readonly value: number;
    readonly samples: number;
    readonly effectiveSamples: number;
    readonly factor: number | null;
    readonly factorLow: number | null;
    readonly factorHigh: number | null;
    readonly proof: 'firm' | 'thin' | 'none';
  }[];
}

const orNull = (x: number): number | null => (Number.isNaN(x) ? null : x);

/** Weighs all sessions of a folder into a table of it. */
export function weighFolder(files: VehicleFiles, tablePath = 'tables/fuel.table.csv'): WeighResult {
  const { vehicle } = readVehicle(files['vehicle.json']);
  const table = readTable(files[tablePath]),
    targetTable = readTable(files['tables/target.table.csv']);
  const sessions = Object.keys(files).filter((path) => path.endsWith('.session.csv'));
  const evidence = judge(
    table,
    sessions.map((path) =>
      weighSession(analyse(readSession(textSource(files[path]), { vehicle }), vehicle, { targetTable }), table, { session: path }),
    ),
  );
  return {
    transportDelay: evidence.sessions.map(({ session, transportDelay }) => ({ session, ...transportDelay })),
    cells: evidence.cells.map((cell) => ({
      ...cell,
      factor: orNull(cell.factor),
      factorLow: orNull(cell.factorLow),
      factorHigh: orNull(cell.factorHigh),
    })),
  };
}
