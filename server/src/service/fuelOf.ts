// The fuel table that a session's readings speak of, as it is asked about with the session.

import type { Table } from '../formats/table/table.js';
import type { Documents } from './documents.js';
import type { Weigher } from './evidence.js';
import type { FuelQuestion } from './sessionQuestion.js';
import { baseName } from './uris.js';

/** Empty where there is none. */
export type FuelOf = (sessionUri: string) => Promise<{ readonly fuel?: FuelQuestion }>;

export const fuelTable =
  (documents: Documents, weigher: Weigher) =>
  async (sessionUri: string): Promise<{ readonly table: Table; readonly name: string; readonly uri: string } | undefined> => {
    const folder = await documents.vehicleFolder(sessionUri);
    const uri = folder && (await weigher.weighedTable(folder));
    const read = uri === undefined ? undefined : await documents.table(uri);
    return uri !== undefined && read ? { table: read.value, name: baseName(uri), uri } : undefined;
  };

/** With what has been weighed so far. */
export const fuelQuestion =
  (documents: Documents, weigher: Weigher): FuelOf =>
  async (sessionUri) => {
    const fuel = await fuelTable(documents, weigher)(sessionUri),
      table = fuel && (await documents.text(fuel.uri)),
      found = fuel && (await weigher.delaySoFar(sessionUri));
    return table === undefined
      ? {}
      : {
          fuel: {
            name: fuel!.name,
            uri: fuel!.uri,
            table,
            ...(found ? { found: { transportDelay: found.transportDelay, loggedWith: found.loggedWithText } } : {}),
          },
        };
  };
