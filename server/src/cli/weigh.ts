// `leanspot weigh`: the evidence that sessions give on each cell of a table.

import { Option, type Command } from 'commander';
import { placeOf } from './places.js';
import { progressBar } from './progressBar.js';
import { writeWeighCsv, writeWeighJson, writeWeighText, type Weighed } from './output/weigh.js';
import { openTable, sessionsFor, tellUnheard } from './tableInput.js';

const WRITERS = { text: writeWeighText, json: writeWeighJson, csv: writeWeighCsv } as const;

export function registerWeigh(program: Command): void {
  program.command('weigh')
    .summary('the evidence the sessions give on each cell')
    .description('Weighs sessions for a fuel table: what each cell must be multiplied by to meet its target, how sure that is, and from how much.')
    .argument('<table>', 'a fuel table')
    .option('--sessions <glob...>', 'sessions to weigh, instead of the vehicle\'s')
    .addOption(new Option('--format <format>', 'how to write the evidence').choices(Object.keys(WRITERS)).default('text'))
    .option('--vehicle <file>', 'vehicle file, instead of the nearest vehicle.json above the table')
    .option('--verbose', 'show details where something goes wrong inside Leanspot')
    .addHelpText('after', `
Examples:
  leanspot weigh tables/ve.table.csv
  leanspot weigh tables/ve.table.csv --sessions 'sessions/dyno*.session.csv' --format json`)
    .action(weigh);
}

async function weigh(path: string, options: { sessions?: string[]; format: keyof typeof WRITERS; vehicle?: string }): Promise<void> {
  const input = await openTable(path, options.vehicle);
  const sessions = await sessionsFor(input, options.sessions);
  await tellUnheard(input, sessions);
  const evidence = await weighWithBar(sessions, (progress) => input.service.weigher.evidenceOf(input.uri, sessions, progress));
  const places = new Map<string, string>();
  for (const uri of [input.uri, ...sessions]) places.set(uri, (await placeOf(input.service, uri)).file);
  WRITERS[options.format]({ table: input.table, tablePath: places.get(input.uri)!, evidence: evidence!.value, nameOf: (uri) => places.get(uri) ?? uri } satisfies Weighed);
}

/** Runs work over sessions with a bar on the terminal. */
export async function weighWithBar<T>(sessions: readonly string[], work: (progress: { cancelled: boolean; report(done: number, total: number, what: string): void }) => Promise<T>): Promise<T> {
  const bar = progressBar(sessions.length);
  try {
    return await work({ cancelled: false, report: (done, _total, what) => bar.at(done, decodeURIComponent(what.slice(what.lastIndexOf('/') + 1))) });
  } finally {
    bar.stop();
  }
}

