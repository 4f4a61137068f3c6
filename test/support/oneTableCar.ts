// A car of one fuel table and one session, as text: what both hold is the test's own.

import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace } from './memoryWorkspace.js';

/**
 * What is off by the same everywhere is offered here all the same (`sharedCausePercent`): each test has a cause of its own. `grid` is the
 * table's rows, engine speeds first and then each manifold pressure with its fillings.
 */
export const oneTableCar = (grid: string, session: string): ReturnType<typeof memoryWorkspace> =>
  memoryWorkspace(`=== vehicle.json
{ "tables": { "fuel": "ve.table.csv" }, "limits": { "sharedCausePercent": 1000 } }
=== ve.table.csv
# quantity: volumetric efficiency (%)
# columns: engine speed (rpm)
# rows: manifold pressure (kPa)
${grid}
=== a.session.csv
${session}`);

/**
 * Four minutes of street driving at twenty rows a second, warm unless said otherwise: what moves in it, and behind that the columns that
 * the test's own are.
 */
export function streetDrive(head: string, columns: (timeS: number, row: number) => readonly string[]): string {
  const rows = [`Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%),${head}`];
  for (let row = 0; row < 20 * 240; row++) {
    const timeS = row / 20;
    rows.push(
      [
        timeS.toFixed(2),
        (2600 + 600 * Math.sin(timeS / 7)).toFixed(0),
        (50 + 9 * Math.sin(timeS / 3)).toFixed(1),
        (15 + 3 * Math.sin(timeS / 3)).toFixed(1),
        ...columns(timeS, row),
      ].join(','),
    );
  }
  return `${rows.join('\n')}\n`;
}

const HEAD = [{ start: { line: 0, character: 0 }, end: { line: 0, character: 0 } }];

/**
 * Such a drive and a table that it covers: what is told of the session, the table's cells, why any are held, and how many changes are
 * offered for all of them.
 */
export async function judgedOnStreet(session: string) {
  const workspace = oneTableCar(
      `, 2000, 2600, 3200, 3800
40, 80.0, 82.0, 84.0, 85.0
50, 82.0, 84.0, 86.0, 87.0
60, 84.0, 86.0, 88.0, 89.0`,
      session,
    ),
    service = createLanguageService(workspace),
    ve = workspace.uri('ve.table.csv');
  const { findings } = (await service.check(workspace.uri('a.session.csv')))!,
    { cells, held } = (await service.weigher.evidence(ve))!.value;
  const offered = (await service.codeActions(ve, HEAD, 10)).find(({ kind }) => kind === 'all')?.changes ?? [];
  return { findings, cells, held: new Set([...held!.values()]), offered: offered.length };
}
