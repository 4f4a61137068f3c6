// How fast is a long session checked from the command line? The whole process against csv-parse alone with numbers cast, each in a
// process of its own, by turns in one run on one machine: ratios of medians of processor time, the clock on the wall beside it, and the
// greatest memory.

import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { makeDriveBytes } from './driveBytes.js';
import { run, type Times, type Usage } from './process.js';
import { median, makeSessionBytes, type BenchResult } from './read.js';

const ROWS = Number(process.env.LEANSPOT_ROWS ?? 400_000);
/** At most this share of the time in which csv-parse reads the same file. */
const BAR = 1 / 5;
const MOST_MEGABYTES = 600;
/** At most this share of the time in which pandas reads the same file, its own start included. */
const PANDAS_BAR = 1 / 2;

const CSV_PARSE =
  'import("csv-parse/sync").then(({ parse }) => parse(require("node:fs").readFileSync(process.argv[1]), { cast: true, relax_column_count: true }));';

/**
 * Times of a Python process that reads the file; undefined where pandas is not installed (Debian: python3-pandas). Told of notes, or it
 * takes the first one for the header and all else for words.
 */
const pandas = (file: string): Times | undefined => {
  for (const python of ['python3', '/usr/bin/python3']) {
    const beganMs = performance.now();
    const { status, stdout } = spawnSync(
      python,
      [
        '-c',
        'import sys,resource,pandas\npandas.read_csv(sys.argv[1],comment="#")\nprint(1000*resource.getrusage(resource.RUSAGE_SELF).ru_utime)',
        file,
      ],
      { encoding: 'utf8' },
    );
    if (status === 0) return { userMs: Number(stdout), wallMs: performance.now() - beganMs };
  }
  return undefined;
};

/** Checks a file of noise and one of driving some times each (`LEANSPOT_RUNS`, else 5). Needs `npm run build` first. */
export const bench = (runs = Number(process.env.LEANSPOT_RUNS ?? 5)): BenchResult => {
  const folder = mkdtempSync(join(tmpdir(), 'leanspot-check-'));
  try {
    let pass = true;
    const text = [`checking ${ROWS} rows, 24 channels, whole process: medians of ${runs} runs, user processor time`];
    for (const [name, make] of [
      ['noise', makeSessionBytes],
      ['drive', makeDriveBytes],
    ] as const) {
      const file = join(folder, `${name}.session.csv`);
      writeFileSync(file, make(ROWS));
      const own: Usage[] = [],
        rival: number[] = [],
        other: Times[] = [];
      for (let k = 0; k < runs; k++) {
        own.push(run(folder, 'dist/leanspot.js', 'check', file, '--fail-on', 'never'));
        // The rival takes long: three times are enough to know.
        if (k < 3) rival.push(run(folder, '-e', CSV_PARSE, file).userMs);
        const times = pandas(file);
        if (times) other.push(times);
      }
      const ownMs = median(own.map(({ userMs }) => userMs)),
        rivalMs = median(rival),
        ratio = ownMs / rivalMs;
      const megabytes = Math.max(...own.map((each) => each.megabytes));
      pass &&= ratio <= BAR && megabytes < MOST_MEGABYTES;
      const shareOf = (of: 'userMs' | 'wallMs'): number => median(own.map((each) => each[of])) / median(other.map((each) => each[of]));
      pass &&= other.length === 0 || shareOf('userMs') <= PANDAS_BAR;
      text.push(
        `${name}: leanspot check ${ownMs.toFixed(0)} ms, csv-parse with numbers cast ${rivalMs.toFixed(0)} ms: ${ratio.toFixed(2)} of it (bar ${BAR}); peak memory ${megabytes.toFixed(0)} MB (bar ${MOST_MEGABYTES})`,
        other.length === 0
          ? `${name}: skipped pandas: not installed`
          : `${name}: pandas from start to exit ${median(other.map(({ userMs }) => userMs)).toFixed(0)} ms: ${shareOf('userMs').toFixed(2)} of it (bar ${PANDAS_BAR}); ` +
              `by the clock on the wall ${median(own.map(({ wallMs }) => wallMs)).toFixed(0)} ms against ${median(other.map(({ wallMs }) => wallMs)).toFixed(0)}: ${shareOf('wallMs').toFixed(2)} of it`,
      );
    }
    const start = median(Array.from({ length: runs }, () => run(folder, 'dist/leanspot.js', '--version').userMs));
    const bare = median(Array.from({ length: runs }, () => run(folder, '-e', '0').userMs));
    text.push(`start-up: leanspot --version ${start.toFixed(0)} ms, of which Node itself ${bare.toFixed(0)} ms (aim 120)`);
    return { pass, text: text.join('\n') };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
};

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const { pass, text } = bench();
  console.log(text);
  process.exitCode = pass ? 0 : 1;
}
