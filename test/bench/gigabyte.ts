// Is a session of a gigabyte checked in near linear time and bounded memory? The whole process, against one of 50 MB of the same kind by
// turns in one run.

import { closeSync, mkdtempSync, openSync, rmSync, statSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { drivePieces } from './driveBytes.js';
import { run, type Usage } from './process.js';
import { median, sessionPieces, type BenchResult } from './read.js';

/** About 50 MB and about a gigabyte. */
const ROWS = 400_000,
  TIMES_AS_LONG = 20;
const BARS = { timesAsLong: 24, megabytes: 1024 } as const;

const write = (file: string, pieces: Iterable<string>): void => {
  const descriptor = openSync(file, 'w');
  for (const piece of pieces) writeSync(descriptor, piece);
  closeSync(descriptor);
};

/** Needs `npm run build` first, and 2 GB on the disk. */
export const bench = (runs = Number(process.env.LEANSPOT_RUNS ?? 5)): BenchResult => {
  const folder = mkdtempSync(join(tmpdir(), 'leanspot-gigabyte-'));
  try {
    let pass = true;
    const text: string[] = [];
    for (const [name, pieces] of [
      ['noise', sessionPieces],
      ['drive', drivePieces],
    ] as const) {
      const short = join(folder, 'short.session.csv'),
        long = join(folder, 'long.session.csv');
      write(short, pieces(ROWS));
      write(long, pieces(ROWS * TIMES_AS_LONG));
      const shorts: Usage[] = [],
        longs: Usage[] = [];
      for (let k = 0; k < runs; k++)
        for (const [file, usages] of [
          [short, shorts],
          [long, longs],
        ] as const)
          usages.push(run(folder, 'dist/leanspot.js', 'check', file, '--fail-on', 'never'));
      const [shortMs, longMs] = [shorts, longs].map((usages) => median(usages.map(({ wallMs }) => wallMs)));
      const ratio = longMs / shortMs,
        megabytes = Math.max(...longs.map((each) => each.megabytes));
      pass &&= ratio <= BARS.timesAsLong && megabytes <= BARS.megabytes;
      text.push(
        `${name}: ${(statSync(long).size / 2 ** 20).toFixed(0)} MB checked in ${(longMs / 1000).toFixed(1)} s against ${(statSync(short).size / 2 ** 20).toFixed(0)} MB in ${(shortMs / 1000).toFixed(2)} s: ` +
          `${ratio.toFixed(1)} times as long (bar ${BARS.timesAsLong}); peak memory ${megabytes.toFixed(0)} MB (bar ${BARS.megabytes})`,
      );
    }
    return { pass, text: [`medians of ${runs} runs by the clock on the wall`, ...text].join('\n') };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
};

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const { pass, text } = bench();
  console.log(text);
  process.exitCode = pass ? 0 : 1;
}
