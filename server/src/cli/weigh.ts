// `leanspot weigh`: the evidence that sessions give on each cell of a table.

import { Option, type Command } from 'commander';
import { vehicleFuel } from '../formats/vehicle/vehicleFuel.js';
import { evidenceLine } from '../fueling/evidenceFile.js';
import { keptEvidence, refuseTaken, saveLines } from './evidenceFiles.js';
import { placeOf } from './places.js';
import { progressBar } from './progressBar.js';
import { writeWeighCsv, writeWeighJson, writeWeighText, type Weighed } from './output/weigh.js';
import { openTable, sessionsFor, tellUnheard } from './tableInput.js';

const WRITERS = { text: writeWeighText, json: writeWeighJson, csv: writeWeighCsv } as const;

export function registerWeigh(program: Command): void {
  program
    .command('weigh')
    .summary('the evidence the sessions give on each cell')
    .description(
      'Weighs sessions for a fuel table: what each cell must be multiplied by to meet its target, how sure that is, and from how much.',
    )
    .argument('<table>', 'a fuel table')
    .option('--sessions <glob...>', "sessions to weigh, instead of the vehicle's")
    .addOption(new Option('--format <format>', 'how to write the evidence').choices(Object.keys(WRITERS)).default('text'))
    .option('--save-evidence <file>', "keep each session's evidence in a new file, one line a session")
    .option('--from-evidence <file...>', 'merge evidence kept before; without --sessions it stands in for the sessions')
    .option('--vehicle <file>', 'vehicle file, instead of the nearest vehicle.json above the table')
    .option('--verbose', 'show details where something goes wrong inside Leanspot')
    .addHelpText(
      'after',
      `
Examples:
  leanspot weigh tables/ve.table.csv
  leanspot weigh tables/ve.table.csv --sessions 'sessions/dyno*.session.csv' --format json
  leanspot weigh tables/ve.table.csv --sessions 'may/*.session.csv' --save-evidence may.evidence.jsonl
  leanspot weigh tables/ve.table.csv --from-evidence may.evidence.jsonl june.evidence.jsonl`,
    )
    .action(weigh);
}

interface WeighOptions {
  readonly sessions?: string[];
  readonly format: keyof typeof WRITERS;
  readonly vehicle?: string;
  readonly saveEvidence?: string;
  readonly fromEvidence?: string[];
}

async function weigh(path: string, options: WeighOptions): Promise<void> {
  const { saveEvidence, fromEvidence = [] } = options;
  if (saveEvidence !== undefined) refuseTaken(saveEvidence);
  const input = await openTable(path, options.vehicle);
  const {
    service: { weigher },
    uri: tableUri,
    table,
  } = input;
  const kept = await keptEvidence(table, fromEvidence);
  const sessions = kept.length > 0 && !options.sessions ? [] : await sessionsFor(input, options.sessions);
  await tellUnheard(input, sessions);
  const fresh = await weighWithBar(sessions, (progress) => weigher.sessionEvidences(tableUri, sessions, progress));
  const places = new Map<string, string>();
  for (const uri of [tableUri, ...sessions]) places.set(uri, (await placeOf(input.service, uri)).file);
  const nameOf = (uri: string): string => places.get(uri) ?? uri;
  if (saveEvidence !== undefined)
    saveLines(
      saveEvidence,
      [...fresh, ...kept].map((evidence) => evidenceLine(evidence, table, nameOf(evidence.weight.session))),
    );
  const evidence = await weigher.judged(tableUri, [...fresh, ...kept]);
  const folder = await input.service.vehicleFolder(tableUri),
    fuel = folder && vehicleFuel(folder.document.vehicle);
  WRITERS[options.format]({
    table,
    tablePath: places.get(tableUri)!,
    evidence: evidence!.value,
    nameOf,
    ...(fuel ? { fuel } : {}),
  } satisfies Weighed);
}

/** Runs work over sessions with a bar on the terminal. */
export async function weighWithBar<T>(
  sessions: readonly string[],
  work: (progress: { cancelled: boolean; report(done: number, total: number, what: string): void }) => Promise<T>,
): Promise<T> {
  const bar = progressBar(sessions.length);
  try {
    return await work({
      cancelled: false,
      report: (done, _total, what) => bar.at(done, decodeURIComponent(what.slice(what.lastIndexOf('/') + 1))),
    });
  } finally {
    bar.stop();
  }
}
