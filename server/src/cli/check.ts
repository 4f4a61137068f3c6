// `leanspot check`: all findings in sessions, tables and vehicle files.

import { Option, type Command } from 'commander';
import type { Finding, Severity } from '../findings/finding.js';
import { identityOf, type Identity } from '../service/baseline.js';
import { sameNumbers } from '../service/sameTable.js';
import type { FileCheck } from '../service/check.js';
import type { FileService } from '../service/fileService.js';
import { openBaseline, restIn, writeBaseline, type Found, type Rest } from './baseline.js';
import { Failure, isOfFile, lineFor } from './failure.js';
import { findInputs } from './inputs.js';
import { jsonWriter } from './output/json.js';
import { sarifWriter } from './output/sarif.js';
import { textWriter } from './output/text.js';
import { counted } from './output/words.js';
import { tell } from './output/write.js';
import { fromWorkingFolder, placeOf, type Place } from './places.js';
import { progressBar } from './progressBar.js';

interface CheckOptions {
  readonly format: 'text' | 'json' | 'sarif';
  readonly failOn: 'error' | 'warning' | 'never';
  readonly vehicle?: string;
  readonly baseline?: string;
  readonly writeBaseline?: true;
}

/** A file's findings and where it stands, as every output gets them. Hints are for the editor alone and are left out. */
export interface Checked extends FileCheck {
  readonly place: Place;
  readonly path: string;
  /** What each finding is known by, in the order of `findings`. */
  readonly identities: readonly Identity[];
  /** With a baseline: which of these rest in it. */
  readonly rest?: { readonly path: string; readonly resting: ReadonlySet<Identity> };
  /** Of a session: the earlier table it is pinned to, where that has other numbers than the table now. */
  readonly earlierTable?: string;
}

/** What is written beside the findings. */
export interface Outcome {
  /** What could not be checked, a line each. */
  readonly failures: readonly string[];
  /** With a baseline: the findings that rest. */
  readonly rest?: Rest;
}

/** Told of each file as it is checked, so that thousands of them need not be kept, then of what stands beside. */
export interface Writer {
  add(file: Checked): void;
  end(outcome: Outcome): void;
}

/** Each with the places of all files that will come. */
const WRITERS: Readonly<Record<CheckOptions['format'], (places: readonly Place[]) => Writer>> = {
  text: textWriter,
  json: jsonWriter,
  sarif: sarifWriter,
};

export function registerCheck(program: Command): void {
  program
    .command('check')
    .summary('all findings in sessions and tables')
    .description('Checks sessions, tables and vehicle files and tells what is wrong, where, how bad, and what to check first.')
    .argument('<path...>', 'files, folders or globs; - reads a session from standard input')
    .addOption(new Option('--format <format>', 'how to write the findings').choices(Object.keys(WRITERS)).default('text'))
    .addOption(
      new Option('--fail-on <severity>', 'exit with 1 from this severity on').choices(['error', 'warning', 'never']).default('error'),
    )
    .option('--vehicle <file>', 'vehicle file that every path belongs to, instead of the nearest vehicle.json above each')
    .option('--baseline <file>', 'let the findings rest that this file holds: they are counted, and fail nothing')
    .option('--write-baseline', 'write the present findings to the --baseline file, so that they rest from here on')
    .option('--verbose', 'show details where something goes wrong inside Leanspot')
    .addHelpText(
      'after',
      `
Exit status: 0 nothing at or above --fail-on, 1 findings, 2 it could not do what was asked.

Examples:
  leanspot check .                                everything below this folder
  leanspot check samples --fail-on warning        stop at warnings too
  leanspot check run.csv --vehicle car/vehicle.json
  leanspot check 'sessions/*.session.csv' --format json
  leanspot check . --baseline known.json --write-baseline
  leanspot check . --baseline known.json          only what is new since then
  leanspot check - < run.csv`,
    )
    .action(check);
}

async function check(paths: string[], options: CheckOptions): Promise<void> {
  if (options.writeBaseline && options.baseline === undefined) throw new Failure('--write-baseline needs the file: --baseline FILE');
  const baseline = options.baseline === undefined ? undefined : openBaseline(options.baseline, options.writeBaseline === true);
  const { service, files, skipped } = await findInputs(paths, options.vehicle);
  for (const path of skipped) tell(`leanspot: skipped ${path}: neither a session, a table nor a vehicle file\n`);
  const tables = new Set(files.flatMap(({ uri, kind }) => (kind === 'table' ? [uri] : [])));
  const isWeighedLater = async (session: string): Promise<boolean> => {
    const folder = await service.vehicleFolder(session);
    const table = folder && (await service.weigher.weighedTable(folder));
    return table !== undefined && tables.has(table);
  };
  const places: Place[] = [];
  for (const { uri } of files) {
    places.push(
      await placeOf(service, uri).catch((error: unknown) => {
        // Told when its turn comes.
        if (!isOfFile(error)) throw error;
        return { file: fromWorkingFolder(uri) };
      }),
    );
  }
  const writer = WRITERS[options.format](places);
  // JSON comes while the bar would stand in it.
  const bar = progressBar(options.format === 'json' && process.stdout.isTTY ? 0 : files.length);
  const failures: string[] = [],
    found: Found[] = [];
  let [anyFails, resting, mended] = [false, 0, 0];
  try {
    for (const [index, { uri, kind }] of files.entries()) {
      const path = fromWorkingFolder(uri);
      bar.at(index, path);
      try {
        // Those to come are begun meanwhile; each is made once.
        for (const next of files.slice(index + 1, index + service.documents.lanes))
          if (next.kind === 'session') service.check(next.uri, 'session').catch(() => undefined);
        const result = await service.check(uri, kind);
        // While its samples are in memory: the table that comes later reads no session again.
        if (kind === 'session' && (await isWeighedLater(uri))) await service.weigher.weighAhead(uri);
        if (!result) continue;
        const findings = result.findings.filter(({ severity }) => severity !== 'hint');
        const table = kind === 'table' ? (await service.documents.table(uri))?.value : undefined;
        const identities = findings.map((finding) => identityOf(finding, table));
        // What is written to the baseline rests from here on.
        const rest =
          baseline && (options.writeBaseline ? { resting: new Set(identities), mended: 0 } : restIn(baseline, { uri, identities }));
        const file: Checked = {
          ...result,
          findings,
          identities,
          place: places[index],
          path,
          ...(rest ? { rest: { path: baseline.path, resting: rest.resting } } : {}),
          earlierTable: kind === 'session' ? await earlierTable(service, uri) : undefined,
        };
        if (options.writeBaseline) found.push({ uri, identities });
        anyFails ||= fails(awake(file), options.failOn);
        resting += rest?.resting.size ?? 0;
        mended += rest?.mended ?? 0;
        writer.add(file);
      } catch (error) {
        if (!isOfFile(error)) throw error;
        failures.push(lineFor(error));
      }
    }
  } finally {
    bar.stop();
  }
  if (failures.length > 0 && options.writeBaseline) throw new Failure(`the baseline is not written: ${failures[0]}`);
  if (baseline && options.writeBaseline) writeBaseline(baseline, found);
  writer.end({ failures, ...(baseline ? { rest: { path: baseline.path, resting, mended } } : {}) });
  if (options.writeBaseline)
    tell(`leanspot: wrote ${options.baseline}: ${counted(resting, 'finding')} ${resting === 1 ? 'rests' : 'rest'}\n`);
  for (const failure of failures) tell(`leanspot: ${failure}\n`);
  process.exitCode = failures.length > 0 ? 2 : anyFails ? 1 : 0;
}

/** The findings that do not rest. */
export const awake = ({ findings, identities, rest }: Checked): readonly Finding[] =>
  rest ? findings.filter((_, index) => !rest.resting.has(identities[index])) : findings;

async function earlierTable(service: FileService, session: string): Promise<string | undefined> {
  const folder = await service.vehicleFolder(session);
  const uri = folder && (await service.weigher.weighedTable(folder));
  const now = uri === undefined ? undefined : (await service.documents.table(uri))?.value;
  const then = uri === undefined ? undefined : await service.weigher.loggedWith(session, uri);
  return now && then && !sameNumbers(then.table, now) ? then.pinned : undefined;
}

function fails(findings: readonly Finding[], failOn: CheckOptions['failOn']): boolean {
  const failing: readonly Severity[] = failOn === 'never' ? [] : failOn === 'error' ? ['error'] : ['error', 'warning'];
  return findings.some(({ severity }) => failing.includes(severity));
}
