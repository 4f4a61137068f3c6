// How fast is a session read? The fast reader against general CSV parsers on one generated file, in one run on one machine: ratios of
// medians.

import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { parse } from 'csv-parse/sync';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { bytesSource } from '../../server/src/formats/source.js';

const ROWS = Number(process.env.LEANSPOT_ROWS ?? 400_000);
const CHANNELS = 24;
/**
 * How many times as fast as each: csv-parse without casting, the fastest general parser of JavaScript with typed columns, the C reader of
 * pandas.
 */
const BARS = { 'csv-parse, strings': 15, 'udsv, typed columns': 8, 'pandas, its C reader': 4 } as const;

/** Processor time of the C reader over a file in memory, some times; undefined where pandas is not installed (Debian: python3-pandas). */
const PANDAS =
  'import sys,io,time,pandas\nb=open(sys.argv[1],"rb").read()\nfor _ in range(int(sys.argv[2])):\n t=time.process_time();pandas.read_csv(io.BytesIO(b));print(1000*(time.process_time()-t))';
const pandasTimes = (file: string, runs: number): number[] | undefined => {
  for (const python of ['python3', '/usr/bin/python3']) {
    const { status, stdout } = spawnSync(python, ['-c', PANDAS, file, String(runs)], { encoding: 'utf8' });
    if (status === 0) return stdout.trim().split('\n').map(Number);
  }
  return undefined;
};

export interface BenchResult {
  readonly pass: boolean;
  readonly text: string;
}

const NAMES = [
  'Engine Speed (rpm)',
  'Manifold Pressure (kPa)',
  'Lambda',
  'Throttle (%)',
  'Ignition Advance (deg)',
  'Coolant Temperature (°C)',
  'Intake Air Temperature (°C)',
  'Battery Voltage (V)',
];

/** A drive-like file of about 50 MB, the same every time: numbers of the widths that loggers write; a megabyte at a time. */
export function* sessionPieces(rows = ROWS): Generator<string> {
  let state = 12345;
  const random = (): number => (state = (Math.imul(state, 1664525) + 1013904223) >>> 0) / 2 ** 32;
  const header = ['Time (s)', ...NAMES, ...Array.from({ length: CHANNELS - 1 - NAMES.length }, (_, index) => `Aux ${index + 1} (V)`)].join(
    ',',
  );
  let piece = `${header}\n`;
  for (let row = 0; row < rows; row++) {
    piece += (row * 0.02).toFixed(2);
    for (let channel = 1; channel < CHANNELS; channel++) {
      piece +=
        ',' +
        (channel % 3 === 0
          ? (random() * 2).toFixed(3)
          : channel % 3 === 1
            ? String(Math.round(800 + random() * 6000))
            : (random() * 100).toFixed(1));
    }
    piece += '\n';
    if (piece.length > 1 << 20) {
      yield piece;
      piece = '';
    }
  }
  yield piece;
}
export const makeSessionBytes = (rows = ROWS): Uint8Array => new TextEncoder().encode([...sessionPieces(rows)].join(''));

/** Processor time of one run in milliseconds: on a busy machine truer than the clock on the wall. */
const timed = (run: () => void): number => {
  const before = process.cpuUsage();
  run();
  const { user, system } = process.cpuUsage(before);
  return (user + system) / 1000;
};
export const median = (values: readonly number[]): number => [...values].sort((a, b) => a - b)[values.length >> 1];

const besideOwn = (ms: number, ownMs: number): string => `${ms.toFixed(0).padStart(6)} ms ${(ms / ownMs).toFixed(1).padStart(5)} x`;

/** What reads the file, each in a process of its own: none pays for the garbage that another left, nor for code that another made slow. */
const WAYS: readonly (readonly [name: string, ready: (bytes: Uint8Array) => Promise<(() => void) | undefined>])[] = [
  [
    "readSession (typed columns, places, findings' facts)",
    async (bytes) => () => {
      if (readSession(bytesSource(bytes)).samples !== ROWS) throw new Error('rows are missing');
    },
  ],
  [
    'csv-parse, strings',
    async (bytes) => () => {
      parse(bytes);
    },
  ],
  [
    'csv-parse, numbers cast',
    async (bytes) => () => {
      parse(bytes, { cast: (value) => Number(value) });
    },
  ],
  [
    'udsv, typed columns',
    async (bytes) => {
      const udsv = (await import('udsv' as string).catch(() => undefined)) as
        { inferSchema: (text: string) => unknown; initParser: (schema: unknown) => { typedCols: (text: string) => unknown } } | undefined;
      const text = new TextDecoder().decode(bytes);
      return (
        udsv &&
        (() => {
          udsv.initParser(udsv.inferSchema(text)).typedCols(text);
        })
      );
    },
  ],
];

/** The times of some runs of one way; undefined where it is not installed. */
const timesOf = (way: number, file: string, runs: number): number[] | undefined => {
  const child = spawnSync(process.execPath, ['--import', 'tsx', fileURLToPath(import.meta.url), '--way', String(way), file, String(runs)], {
    encoding: 'utf8',
  });
  if (child.status !== 0) throw new Error(`${WAYS[way][0]} failed: ${child.stderr}`);
  return (JSON.parse(child.stdout) as number[] | null) ?? undefined;
};

/**
 * Reads the file some times by each way, `LEANSPOT_RUNS` or as often as a process takes until its memory has come to rest: the pages of the
 * first columns are a third of what reading them takes. What the first reading took stands beside the medians.
 */
export const bench = async (runs = Number(process.env.LEANSPOT_RUNS ?? 15)): Promise<BenchResult> => {
  const folder = mkdtempSync(join(tmpdir(), 'leanspot-read-'));
  try {
    const file = join(folder, 'long.session.csv');
    const bytes = makeSessionBytes();
    writeFileSync(file, bytes);
    // Casting takes csv-parse minutes: once is enough to know.
    const ways = WAYS.map(([name], way) => [name, timesOf(way, file, name.endsWith('cast') ? 1 : runs)] as const);
    const measured = [...ways, ['pandas, its C reader', pandasTimes(file, runs)] as const].flatMap(([name, times]) =>
      times ? [[name, median(times), times[0]] as const] : [],
    );
    const [[, own, ownFirst]] = measured,
      ratios = new Map(measured.map(([name, ms]) => [name, ms / own]));
    const lines = measured.map(
      ([name, ms, firstMs]) => `${name.padEnd(56)} ${besideOwn(ms, own)}, the first of them ${besideOwn(firstMs, ownFirst)}`,
    );
    const bars = Object.entries(BARS).map(([name, least]) => {
      const ratio = ratios.get(name);
      return {
        held: ratio === undefined || ratio >= least,
        words:
          ratio === undefined
            ? `skipped ${name}: not installed`
            : `${ratio >= least ? 'held ' : 'MISSED'} ${ratio.toFixed(1)} x ${name} (at least ${least} x)`,
      };
    });
    return {
      pass: bars.every(({ held }) => held),
      text: [
        `reading ${(bytes.length / 1e6).toFixed(1)} MB, ${CHANNELS} channels, ${ROWS} rows: medians of ${runs} runs, processor time`,
        ...lines,
        ...bars.map(({ words }) => words),
      ].join('\n'),
    };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
};

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const [, , mode, way, file, runs] = process.argv;
  if (mode === '--way') {
    const run = await WAYS[Number(way)][1](readFileSync(file));
    console.log(JSON.stringify(run ? Array.from({ length: Number(runs) }, () => timed(run)) : null));
  } else {
    const { pass, text } = await bench();
    console.log(text);
    process.exitCode = pass ? 0 : 1;
  }
}
