// A small car as text for the cell rules' samples: a fuel table, and a drive that wanders slowly over it.

import { sampleLog, unrest } from './sampleLog.js';

const VEHICLE = '{ "tables": { "fuel": "ve.table.csv" } }\n';

/** The table, its middle cell as given. */
export const sampleTable = (middle = 74): string => `# quantity: volumetric efficiency (%)
# columns: engine speed (rpm)
# rows: manifold pressure (kPa)
   , 1500, 2500, 3500
60 , 66.0, 70.0, 72.0
85 , 70.0, ${middle.toFixed(1)}, 76.0
110, 73.0, 77.0, 79.0
`;

/** Vehicle, table and a drive over it whose lambda stands `ratio` times over its target. */
export const sampleCells = (ratio: number, table = sampleTable()): string =>
  `=== vehicle.json\n${VEHICLE}=== ve.table.csv\n${table}=== a.session.csv\n${sampleLog(90, 0.1, {
    'engine speed (rpm)': (t) => 2500 + 1050 * Math.sin(t / 4.3) + unrest(t, 6),
    'manifold pressure (kPa)': (t) => 84 + 26 * Math.sin(t / 7.1 + 1) + unrest(t, 0.4),
    'throttle (%)': (t) => 45 + 25 * Math.sin(t / 7.1 + 1) + unrest(t, 0.3),
    'target lambda': () => 0.88,
    lambda: (t) => 0.88 * ratio + unrest(t, 0.006),
  })}`;
