// `leanspot check`: all findings in sessions, tables and vehicle files.

import { Option, type Command } from 'commander';
import type { Finding, Severity } from '../findings/finding.js';
import { sameNumbers } from '../service/evidence.js';
import type { FileCheck, LanguageService } from '../service/languageService.js';
import { isOfFile, lineFor } from './failure.js';
import { findInputs } from './inputs.js';
import { writeJson } from './output/json.js';
import { writeSarif } from './output/sarif.js';
import { writeText } from './output/text.js';
import { tell } from './output/write.js';
import { fromWorkingFolder, placeOf, type Place } from './places.js';
import { progressBar } from './progressBar.js';

interface CheckOptions {
  readonly format: 'text' | 'json' | 'sarif';
  readonly failOn: 'error' | 'warning' | 'never';
  readonly vehicle?: string;
}

/** A file's findings and where it stands, as every output gets them. Hints are for the editor alone and are left out. */
export interface Checked extends FileCheck {
  readonly place: Place;
  readonly path: string;
  /** Of a session: the earlier table it is pinned to, where that has other numbers than the table now. */
  readonly earlierTable?: string;
}

const WRITERS = { text: writeText, json: writeJson, sarif: writeSarif } as const;

export function registerCheck(program: Command): void {
  program.command('check')
    .summary('all findings in sessions and tables')
    .description('Checks sessions, tables and vehicle files and tells what is wrong, where, how bad, and what to check first.')
    .argument('<path...>', 'files, folders or globs; - reads a session from standard input')
    .addOption(new Option('--format <format>', 'how to write the findings').choices(Object.keys(WRITERS)).default('text'))
    .addOption(new Option('--fail-on <severity>', 'exit with 1 from this severity on').choices(['error', 'warning', 'never']).default('error'))
    .option('--vehicle <file>', 'vehicle file that every path belongs to, instead of the nearest vehicle.json above each')
    .option('--verbose', 'show details where something goes wrong inside Leanspot')
    .addHelpText('after', `
Exit status: 0 nothing at or above --fail-on, 1 findings, 2 it could not do what was asked.

Examples:
  leanspot check .                                everything below this folder
  leanspot check samples --fail-on warning        stop at warnings too
  leanspot check run.csv --vehicle car/vehicle.json
  leanspot check 'sessions/*.session.csv' --format json
  leanspot check - < run.csv`)
    .action(check);
}

async function check(paths: string[], options: CheckOptions): Promise<void> {
  const { service, files, skipped } = await findInputs(paths, options.vehicle);
  for (const path of skipped) tell(`leanspot: skipped ${path}: neither a session, a table nor a vehicle file\n`);
  const isWeighedLater = async (session: string): Promise<boolean> => {
    const folder = await service.vehicleFolder(session);
    const table = folder && await service.weigher.weighedTable(folder);
    return table !== undefined && files.some(({ uri }) => uri === table);
  };
  const bar = progressBar(files.length);
  const checked: Checked[] = [];
  const failures: string[] = [];
  try {
    for (const [index, { uri, kind }] of files.entries()) {
      const path = fromWorkingFolder(uri);
      bar.at(index, path);
      try {
        const result = await service.check(uri, kind);
        // While its samples are in memory: the table that comes later reads no session again.
        if (kind === 'session' && await isWeighedLater(uri)) await service.weigher.weighAhead(uri);
        if (!result) continue;
        checked.push({
          ...result, findings: result.findings.filter(({ severity }) => severity !== 'hint'), place: await placeOf(service, uri), path,
          earlierTable: kind === 'session' ? await earlierTable(service, uri) : undefined,
        });
      } catch (error) {
        if (!isOfFile(error)) throw error;
        failures.push(lineFor(error));
      }
    }
  } finally {
    bar.stop();
  }
  WRITERS[options.format](checked, failures);
  for (const failure of failures) tell(`leanspot: ${failure}\n`);
  process.exitCode = failures.length > 0 ? 2 : checked.some(({ findings }) => fails(findings, options.failOn)) ? 1 : 0;
}

async function earlierTable(service: LanguageService, session: string): Promise<string | undefined> {
  const folder = await service.vehicleFolder(session);
  const uri = folder && await service.weigher.weighedTable(folder);
  const now = uri === undefined ? undefined : (await service.documents.table(uri))?.value;
  const then = uri === undefined ? undefined : await service.weigher.loggedWith(session, uri);
  return now && then && !sameNumbers(then.table, now) ? then.pinned : undefined;
}

function fails(findings: readonly Finding[], failOn: CheckOptions['failOn']): boolean {
  const failing: readonly Severity[] = failOn === 'never' ? [] : failOn === 'error' ? ['error'] : ['error', 'warning'];
  return findings.some(({ severity }) => failing.includes(severity));
}
