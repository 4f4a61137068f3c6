// `leanspot diff`: what changed between two tables, and what the evidence says of it.

import { Option, type Command } from 'commander';
import { diskWorkspace, uriOf } from '../disk/diskWorkspace.js';
import { CAUTIONS } from '../service/correction.js';
import { createFileService } from '../service/fileService.js';
import { reviewTable, type TableReview } from '../service/reviewTable.js';
import {
  evidenceText,
  lostText,
  marksOf,
  percentText,
  placeText,
  reviewJson,
  reviewMarkdown,
  summaryLines,
  valueText,
} from '../service/reviewWords.js';
import { weighedSessionsOf } from '../service/vehicleFolders.js';
import { Failure } from './failure.js';
import { expandSessions } from './inputs.js';
import { coloured } from './output/words.js';
import { jsonText, write } from './output/write.js';
import { wantFile } from './paths.js';
import { fromWorkingFolder, placeOf } from './places.js';
import { weighWithBar } from './weigh.js';

interface DiffOptions {
  readonly format: 'text' | 'json' | 'markdown';
  readonly sessions?: string[];
  readonly vehicle?: string;
}

export function registerDiff(program: Command): void {
  program
    .command('diff')
    .summary('what changed between two tables, and what the evidence says of it')
    .description(
      'Reviews a changed table: each changed cell in per cent, what the sessions asked for there, cells changed without evidence, cells that jump from their neighbours. Other breakpoints are read between.',
    )
    .argument('<old>', 'the table as it was')
    .argument('<new>', 'the table as it is now')
    .addOption(
      new Option('--format <format>', 'how to write it; markdown suits a pull request')
        .choices(['text', 'json', 'markdown'])
        .default('text'),
    )
    .option('--sessions <glob...>', "sessions to weigh, instead of those of the new table's vehicle")
    .option('--vehicle <file>', 'vehicle file, instead of the nearest vehicle.json above the new table')
    .option('--verbose', 'show details where something goes wrong inside Leanspot')
    .addHelpText(
      'after',
      `
Sessions that do not say which table they were logged with are taken to be logged with OLD; where others are
pinned to OLD, as a correction pins those before it, with NEW.

Examples:
  leanspot diff tables/history/ve-1.table.csv tables/ve.table.csv
  git show HEAD:tables/ve.table.csv > old.table.csv && leanspot diff old.table.csv tables/ve.table.csv --format markdown`,
    )
    .action(diff);
}

async function diff(oldPath: string, newPath: string, options: DiffOptions): Promise<void> {
  if (options.vehicle !== undefined) wantFile(options.vehicle, 'vehicle file');
  for (const path of [oldPath, newPath]) wantFile(path, 'table');
  const workspace = diskWorkspace([uriOf('.')]);
  const service = createFileService(workspace, options.vehicle === undefined ? {} : { vehicleUri: uriOf(options.vehicle) });
  const [old, oldText, now] = [
    await service.documents.table(uriOf(oldPath)),
    await service.documents.text(uriOf(oldPath)),
    await service.documents.table(uriOf(newPath)),
  ];
  for (const [read, path] of [
    [old, oldPath],
    [now, newPath],
  ] as const)
    if (!read || read.value.values.length === 0) throw new Failure(`${path} does not read as a table`);
  const sessions = options.sessions ? await expandSessions(service, options.sessions) : undefined;
  const folder = (await service.vehicleFolder(uriOf(newPath))) ?? (await service.vehicleFolder(uriOf(oldPath)));
  const weighed = sessions ?? (folder ? await weighedSessionsOf(workspace, folder) : []);
  const review = await weighWithBar(weighed, (progress) =>
    reviewTable(workspace, service.documents, service.weigher, { table: old!.value, text: oldText ?? '', name: oldPath }, uriOf(newPath), {
      ...(weighed.length > 0 ? { sessions: weighed } : {}),
      newName: newPath,
      progress,
    }),
  );
  if (!review) throw new Failure(`${newPath} went away meanwhile`);
  if ('refused' in review) throw new Failure(`${oldPath} and ${newPath} cannot be compared: ${review.refused}`);
  switch (options.format) {
    case 'text':
      writeText(review);
      break;
    case 'markdown':
      write(reviewMarkdown(review));
      break;
    case 'json': {
      const places = new Map<string, string>();
      for (const uri of [uriOf(oldPath), uriOf(newPath), ...weighed]) places.set(uri, (await placeOf(service, uri)).file);
      write(
        `${jsonText(reviewJson(review, { old: places.get(uriOf(oldPath))!, new: places.get(uriOf(newPath))!, nameOf: (uri) => places.get(uri) ?? fromWorkingFolder(uri) }))}\n`,
      );
    }
  }
}

function writeText(review: TableReview): void {
  const {
    diff: { cells, lost },
    table,
    oldName,
    newName,
  } = review;
  const lines = cells.map((cell) => {
    const text = `  ${placeText(table, cell)}: ${valueText(cell.before)} → ${valueText(cell.after)}${Number.isNaN(cell.percent) ? '' : `, ${percentText(cell.percent)}`}`;
    const more = [evidenceText(cell), ...marksOf(cell)].filter((part) => part !== '').join('; ');
    const paint =
      cell.verdict === 'against'
        ? coloured.red
        : cell.verdict === 'no-evidence' || cell.jumps
          ? coloured.yellow
          : (plain: string): string => plain;
    return paint(more === '' ? text : `${text}; ${more}`);
  });
  write(
    [
      coloured.bold(`${newName}, changed since ${oldName}`),
      ...summaryLines(review),
      ...(lines.length > 0 ? ['', ...lines] : []),
      ...(lost.length > 0 ? ['', ...lost.slice(0, 20).map((point) => `  ${lostText(point)}`)] : []),
      ...(cells.length > 0 ? ['', `Caution: ${CAUTIONS}`] : []),
    ].join('\n') + '\n',
  );
}
