// A car of one fuel table and one session, as text: what both hold is the test's own.

import { memoryWorkspace } from './memoryWorkspace.js';

/** `grid` is the table's rows, engine speeds first and then each manifold pressure with its fillings. */
export const oneTableCar = (grid: string, session: string): ReturnType<typeof memoryWorkspace> => memoryWorkspace(`=== vehicle.json
{ "tables": { "fuel": "ve.table.csv" } }
=== ve.table.csv
# quantity: volumetric efficiency (%)
# columns: engine speed (rpm)
# rows: manifold pressure (kPa)
${grid}
=== a.session.csv
${session}`);
