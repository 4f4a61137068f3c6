// `leanspot compare`: did the change work, cell by cell.

import { Option, type Command } from 'commander';
import { VERDICT_WORDS, compare, worstFirst, type Comparison } from '../fueling/change/compare.js';
import { placeText } from '../formats/table/placeText.js';
import type { Table } from '../formats/table/table.js';
import { notSafeWords, type FoundIn } from '../report/notSafe.js';
import type { TableState } from '../service/loggedWith.js';
import { sameNumbers } from '../service/sameTable.js';
import { Failure } from './failure.js';
import { expandSessions } from './inputs.js';
import { coloured } from './output/words.js';
import { jsonText, write } from './output/write.js';
import { fromWorkingFolder, placeOf } from './places.js';
import { openTable, tellUnheard } from './tableInput.js';
import { weighWithBar } from './weigh.js';

interface CompareOptions {
  readonly before: string[];
  readonly after: string[];
  readonly format: 'text' | 'json';
  readonly vehicle?: string;
}

export function registerCompare(program: Command): void {
  program
    .command('compare')
    .summary('did the change work, cell by cell')
    .description(
      'Holds the sessions before a change against those after it: what was expected of each cell, what was measured, and whether that is more than chance.',
    )
    .argument('<table>', 'the fuel table, as it is now')
    .requiredOption('--before <glob...>', 'sessions from before the change')
    .requiredOption('--after <glob...>', 'sessions from after it')
    .addOption(new Option('--format <format>', 'how to write it').choices(['text', 'json']).default('text'))
    .option('--vehicle <file>', 'vehicle file, instead of the nearest vehicle.json above the table')
    .option('--verbose', 'show details where something goes wrong inside Leanspot')
    .addHelpText(
      'after',
      `
Sessions from before the change need the earlier table: pinned in vehicle.json ("loggedWith") or in their own notes (# logged-with: PATH).

Example:
  leanspot compare tables/ve.table.csv --before 'sessions/monday*.csv' --after 'sessions/friday*.csv'`,
    )
    .action(compareSessions);
}

async function compareSessions(path: string, options: CompareOptions): Promise<void> {
  const input = await openTable(path, options.vehicle);
  const { service, uri, table } = input;
  const { weigher } = service;
  const sessionsBefore = await expandSessions(service, options.before);
  const sessionsAfter = await expandSessions(service, options.after);
  const both = sessionsBefore.find((session) => sessionsAfter.includes(session));
  if (both !== undefined)
    throw new Failure(`${fromWorkingFolder(both)} is named both before and after: a session belongs to one side of the change`);
  const side = async (name: string, sessions: readonly string[]) => {
    await tellUnheard(input, sessions);
    const tables: TableState[] = [];
    for (const session of sessions) {
      const state = await weigher.loggedWith(session, uri);
      if (state && !tables.some((other) => sameNumbers(other.table, state.table))) tables.push(state);
    }
    // One verdict speaks of one change: a factor is held against the value that it was measured with.
    if (tables.length > 1) {
      throw new Failure(
        `the sessions of ${name} were logged with different tables (${tables.map(({ pinned }) => pinned ?? path).join(', ')}): compare those of one table at a time`,
      );
    }
    const evidences = await weighWithBar(sessions, (progress) => weigher.sessionEvidences(uri, sessions, progress));
    return { evidences, table: tables[0]?.table ?? table };
  };
  const before = await side('--before', sessionsBefore);
  const after = await side('--after', sessionsAfter);
  const found: FoundIn[] = [];
  for (const session of sessionsAfter)
    found.push({ file: fromWorkingFolder(session), findings: (await service.check(session, 'session'))?.findings ?? [] });
  const comparison = compare(table, before.evidences, after.evidences, { before: before.table, after: after.table }, notSafeWords(found));
  if (options.format === 'json') writeJson(comparison, (await placeOf(service, uri)).file);
  else writeText(comparison, table);
}

function writeJson({ cells, counts, errorBeforePercent, errorAfterPercent, verdict }: Comparison, tablePath: string): void {
  // A number that is not known is null.
  const plain = (_key: string, value: unknown): unknown =>
    typeof value === 'number' ? (Number.isFinite(value) ? Number(value.toPrecision(6)) : null) : value;
  write(`${jsonText({ schema: 1, table: tablePath, verdict, errorBeforePercent, errorAfterPercent, counts, cells }, plain)}\n`);
}

function writeText({ cells, verdict }: Comparison, table: Table): void {
  const percent = (factor: number): string => `${factor >= 1 ? '+' : '−'}${Math.abs((factor - 1) * 100).toFixed(1)} %`;
  const lines = worstFirst(cells).map(
    (cell) =>
      `  ${placeText(table, cell.row, cell.column)}: ${cell.valueBefore} → ${cell.valueAfter}; fuel wanted ${percent(cell.factorBefore)} before, ` +
      `${percent(cell.factorExpected)} expected, ${percent(cell.factorAfter)} after: ${VERDICT_WORDS[cell.verdict]}`,
  );
  write([coloured.bold(verdict), ...(lines.length > 0 ? ['', 'Cells (column / row), the worst first:', ...lines] : [])].join('\n') + '\n');
}
