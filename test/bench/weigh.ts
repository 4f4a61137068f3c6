// How fast is an archive weighed? Fifty sessions of ten minutes into a 16 × 16 table: weighing against reading, judging again after an
// edit, memory;
// and the command as it is built, on all its threads.

import { spawnSync } from 'node:child_process';
import { copyFileSync, existsSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { fileSource } from '../../server/src/disk/fileSource.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { readVehicle } from '../../server/src/formats/vehicle/readVehicle.js';
import { judge, weighSession, type SessionEvidence } from '../../server/src/fueling/weigh.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { makeCar, simulateDrive, vehicleFolder, type Drive, type Grid } from '../support/simulator/index.js';

const SESSIONS = Number(process.env.LEANSPOT_SESSIONS ?? 50);
const MINUTES = Number(process.env.LEANSPOT_MINUTES ?? 10);
/** Edits judged, and as many before them as the editor has long behind it when they count. */
const EDITS = 200,
  WARM_UP = 40;
const CHANNELS = 24;
/** Drives that differ; the archive goes through them in turn. */
const DRIVES = Math.min(5, SESSIONS);
const BARS = { ratio: 2, judgeMs: 16, memoryMB: 400 } as const;

export interface BenchResult {
  readonly pass: boolean;
  readonly text: string;
}

interface Measured {
  readonly readMs: readonly number[];
  readonly analyseMs: readonly number[];
  readonly weighMs: readonly number[];
  readonly firstJudgeMs: number;
  readonly judgeMs: readonly number[];
  readonly memoryMB: number;
}

/** Processor time in milliseconds: on a busy machine truer than the clock on the wall. */
const timed = <T>(into: number[], run: () => T): T => {
  const before = process.cpuUsage();
  const result = run();
  const { user, system } = process.cpuUsage(before);
  into.push((user + system) / 1000);
  return result;
};
const quantile = (values: readonly number[], share: number): number =>
  [...values].sort((a, b) => a - b)[Math.min(values.length - 1, Math.floor(share * values.length))];

/** Writes the vehicle folder: the simulated drives at 25 Hz, filled up to 24 columns. */
const writeArchive = (folder: string): void => {
  const step = (from: number, to: number): number[] =>
    Array.from({ length: 16 }, (_, i) => Math.round((from + ((to - from) * i) / 15) / 5) * 5);
  const plain = makeCar('natural', 1);
  const car = makeCar('natural', 1, {
    columns: step(600, 6900),
    rows: step(25, 105),
    fuelTableQuantity: 'volumetric-efficiency',
    log: { ...plain.log, rateHz: 25 },
  });
  // All logged with one table: left to themselves drives have each its own errors planted, and would contradict each other in the
  // judgement.
  const drive = (seed: number, fuelTable?: Grid): Drive =>
    simulateDrive({ car, seed, minutes: MINUTES, driver: 'mixed', start: 'warm', ...(fuelTable && { fuelTable }) });
  const first = drive(1);
  for (let each = 0; each < DRIVES; each++) {
    const files = vehicleFolder([each === 0 ? first : drive(1 + each, first.truth.fuelTable)]);
    writeFileSync(join(folder, 'vehicle.json'), files['vehicle.json']);
    writeFileSync(join(folder, 'fuel.table.csv'), files['tables/fuel.table.csv']);
    writeFileSync(join(folder, 'target.table.csv'), files['tables/target.table.csv']);
    const [header, ...rows] = files['sessions/drive-1.session.csv'].split(/\r?\n/).filter((line) => line !== '' && !line.startsWith('#'));
    const extra = Math.max(0, CHANNELS - header.split(',').length);
    const filled = rows.map(
      (row, at) => row + Array.from({ length: extra }, (_, i) => `,${(2.5 + Math.sin(at / (50 + 9 * i))).toFixed(3)}`).join(''),
    );
    writeFileSync(
      join(folder, `${each}.session.csv`),
      `${header}${Array.from({ length: extra }, (_, i) => `,Aux ${i + 1} (V)`).join('')}\n${filled.join('\n')}\n`,
    );
  }
};

/** What the child process does: nothing but the product, so that its memory is the product's. */
const measure = (folder: string): Measured => {
  const text = (name: string): string => readFileSync(join(folder, name), 'utf8');
  const { vehicle } = readVehicle(text('vehicle.json'));
  const [fuelText, targetTable] = [text('fuel.table.csv'), readTable(text('target.table.csv'))];
  const table = readTable(fuelText);
  const names = readdirSync(folder).filter((name) => name.endsWith('.session.csv'));
  const [readMs, analyseMs, weighMs, firstMs, judgeMs]: number[][] = [[], [], [], [], []];
  const evidences: SessionEvidence[] = [];
  for (let each = 0; each < SESSIONS; each++) {
    const session = timed(readMs, () => readSession(fileSource(join(folder, names[each % names.length]))!, { vehicle }));
    // What happened is found on demand: here, so that it is told apart. Faults are looked for only in the channels that weighing reads.
    const signals = timed(analyseMs, () => {
      const found = analyse(session, vehicle, { targetTable });
      return (void [found.events, found.targetLambda], found);
    });
    evidences.push(timed(weighMs, () => weighSession(signals, table, { session: String(each) })));
  }
  const first = timed(firstMs, () => judge(table, evidences));
  const lines = fuelText.split('\n');
  const at = lines.findIndex((line) => /^\s*,/.test(line)) + 4;
  for (let edit = -WARM_UP; edit < EDITS; edit++) {
    const edited = [...lines];
    edited[at] = lines[at].replace(/,\s*[\d.]+/, `, ${(45 + edit / 10).toFixed(1)}`);
    timed(edit < 0 ? [] : judgeMs, () => judge(readTable(edited.join('\n')), evidences));
  }
  if (!first.cells.some(({ proof }) => proof === 'firm')) throw new Error('nothing was proven: the archive is no archive');
  if (first.contradiction) throw new Error('sessions contradict each other: the archive is of no one car');
  return { readMs, analyseMs, weighMs, firstJudgeMs: firstMs[0], judgeMs, memoryMB: process.resourceUsage().maxRSS / 1024 };
};

/**
 * `leanspot weigh` over as many files: on the clock, and processor time of all its threads, ms. Undefined where nothing is built, or there
 * is no shell to count it.
 */
const command = (folder: string): { readonly wallMs: number; readonly processorMs: number } | undefined => {
  const program = fileURLToPath(new URL('../../dist/leanspot.js', import.meta.url)),
    many = join(folder, 'many');
  if (!existsSync(program) || process.platform === 'win32') return undefined;
  mkdirSync(many);
  for (let each = 0; each < SESSIONS; each++) copyFileSync(join(folder, `${each % DRIVES}.session.csv`), join(many, `${each}.session.csv`));
  const began = performance.now();
  // The shell's second line of `times` is of its children: user and system time, minutes and seconds.
  const { status, stderr } = spawnSync(
    '/bin/sh',
    [
      '-c',
      '"$0" "$@" > /dev/null && times >&2',
      process.execPath,
      program,
      'weigh',
      join(folder, 'fuel.table.csv'),
      '--vehicle',
      join(folder, 'vehicle.json'),
      '--sessions',
      join(many, '*.session.csv'),
    ],
    { encoding: 'utf8' },
  );
  const wallMs = performance.now() - began;
  if (status !== 0) throw new Error(`leanspot weigh failed: ${stderr}`);
  const times = [
    ...stderr
      .trim()
      .split('\n')
      .at(-1)!
      .matchAll(/(\d+)m([\d.]+)s/g),
  ];
  return { wallMs, processorMs: times.reduce((sum, [, minutes, seconds]) => sum + 60_000 * Number(minutes) + 1000 * Number(seconds), 0) };
};

/**
 * Runs the archive in a process of its own. `LEANSPOT_SESSIONS` and `LEANSPOT_MINUTES` make it shorter (50 sessions of 10 minutes where
 * they are not set).
 */
export const bench = (): BenchResult => {
  const folder = mkdtempSync(join(tmpdir(), 'leanspot-weigh-'));
  try {
    writeArchive(folder);
    const child = spawnSync(process.execPath, ['--import', 'tsx', fileURLToPath(import.meta.url), '--measure', folder], {
      encoding: 'utf8',
      maxBuffer: 1 << 26,
    });
    if (child.status !== 0) return { pass: false, text: `weighing failed: ${child.stderr}` };
    const { readMs, analyseMs, weighMs, firstJudgeMs, judgeMs, memoryMB } = JSON.parse(child.stdout) as Measured;
    const [read, analysed, weighed] = [readMs, analyseMs, weighMs].map((times) => quantile(times, 0.5));
    const ratio = (analysed + weighed + firstJudgeMs / SESSIONS) / read;
    const p95 = quantile(judgeMs, 0.95),
      whole = command(folder),
      allRead = SESSIONS * read;
    const bars: [string, boolean][] = [
      [`weighing takes ${ratio.toFixed(2)} x reading (at most ${BARS.ratio})`, ratio <= BARS.ratio],
      [`judging again after an edit: p95 ${p95.toFixed(1)} ms (at most ${BARS.judgeMs})`, p95 <= BARS.judgeMs],
      [`most memory ${memoryMB.toFixed(0)} MB, the runtime's own included (at most ${BARS.memoryMB})`, memoryMB <= BARS.memoryMB],
    ];
    return {
      pass: bars.every(([, held]) => held),
      text: [
        `weighing ${SESSIONS} sessions of ${MINUTES} min, 25 Hz, ${CHANNELS} columns, into 16 × 16: processor time, medians a session`,
        `  reading ${read.toFixed(0)} ms, signals ${analysed.toFixed(0)} ms, weighing ${weighed.toFixed(0)} ms; first judgement of all ${firstJudgeMs.toFixed(0)} ms`,
        ...(whole
          ? [
              `  leanspot weigh, all of it: ${(whole.wallMs / 1000).toFixed(1)} s on the clock, ${(whole.wallMs / allRead).toFixed(1)} x reading; ${(whole.processorMs / 1000).toFixed(1)} s of processor time, ${(whole.processorMs / allRead).toFixed(1)} x`,
            ]
          : []),
        ...bars.map(([words, held]) => `${held ? 'held ' : 'MISSED'} ${words}`),
      ].join('\n'),
    };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
};

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
  if (process.argv[2] === '--measure') process.stdout.write(JSON.stringify(measure(process.argv[3])));
  else {
    const { pass, text } = bench();
    console.log(text);
    process.exitCode = pass ? 0 : 1;
  }
}
