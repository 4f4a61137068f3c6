// A vehicle folder that says a piece wherever its files have room for words: names, units, notes, headers, cells, keys, paths.

import { sampleDrive, SAMPLE_TABLE } from '../support/sampleDrive.js';

/**
 * Path in the folder → text. The same car whatever the piece is: a full-load pull that runs lean, and a table changed since the first
 * drive. `name`: in the files' names.
 */
export function carSaying(piece: string, name = piece.replaceAll('/', '_')): Readonly<Record<string, string>> {
  const quoted = `"${piece.replaceAll('"', '""')}"`;
  const notes = `# ${piece}\n# ${piece}: ${piece}\n# place: ${piece}\n# trouble-codes: ${piece}\n# ignore: ${piece}\n`;
  const drive =
    notes +
    sampleDrive()
      .split('\n')
      .map((line, row) =>
        line === ''
          ? ''
          : row === 0
            ? `${line},${quoted},"Oil Temperature (${quoted.slice(1, -1)})"`
            : `${line},${row === 40 ? quoted : row},90`,
      )
      .join('\n');
  const table = `# ${piece}: ${piece}\n# ignore: ${piece}\n${SAMPLE_TABLE.replace('87.0', quoted)}`;
  return {
    'vehicle.json': `${JSON.stringify(
      {
        name: piece,
        [piece]: piece,
        channels: { [piece]: { quantity: piece }, 'Oil Temperature': { quantity: 'oil-temperature', unit: piece } },
        fuel: { blend: piece },
        tables: { fuel: `tables/${name}.table.csv`, target: `tables/gone ${name}.table.csv` },
        sessions: [{ files: 'sessions/first*.session.csv', loggedWith: `tables/history/${name}.table.csv` }],
      },
      null,
      1,
    )}\n`,
    [`tables/${name}.table.csv`]: table.replace('52.0', '53.0'),
    [`tables/history/${name}.table.csv`]: table,
    [`tables/axes ${name}.table.csv`]: `# quantity: ${piece}\n# columns: ${piece}\n# rows: manifold pressure (${piece})\n${quoted},1000,${quoted}\n${quoted},1,2\n30,3,${quoted}\n`,
    [`sessions/first ${name}.session.csv`]: drive,
    [`sessions/then ${name}.session.csv`]: drive,
  };
}
