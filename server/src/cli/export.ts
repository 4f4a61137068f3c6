// `leanspot export`: the samples of sessions, typed and in canonical units, as one Parquet file for other engines.

import { Option, type Command } from 'commander';
import { fileExists, fillNewFile } from '../disk/writeFile.js';
import { channelsLeftOut, sampleValues } from '../service/sampleColumns.js';
import { baseName } from '../service/uris.js';
import { Failure } from './failure.js';
import { findInputs } from './inputs.js';
import { openParquet } from './output/parquet.js';
import { counted } from './output/words.js';
import { tell } from './output/write.js';
import { wantFolderOf } from './paths.js';
import { fromWorkingFolder } from './places.js';
import { progressBar } from './progressBar.js';

export function registerExport(program: Command): void {
  program
    .command('export')
    .summary('typed samples for other engines')
    .description(
      'Writes the samples of sessions into one Parquet file: always the same columns, in canonical units, with what the engine was doing and which readings failed a check.',
    )
    .argument('<path...>', 'files, folders or globs')
    .addOption(new Option('--format <format>', 'what to write').choices(['parquet']).makeOptionMandatory())
    .requiredOption('--output <file>', 'the file to make')
    .option('--vehicle <file>', 'vehicle file that every path belongs to, instead of the nearest vehicle.json above each')
    .option('--verbose', 'show details where something goes wrong inside Leanspot')
    .addHelpText(
      'after',
      `
Examples:
  leanspot export . --format parquet --output season.parquet
  leanspot export 'sessions/*.session.csv' --format parquet --output may.parquet`,
    )
    .action(exportSamples);
}

/** Rows of a row group: as much as is held in memory at once. */
const GROUP_ROWS = 50_000;

async function exportSamples(paths: string[], { output, vehicle }: { output: string; vehicle?: string }): Promise<void> {
  if (fileExists(output)) throw new Failure(`${output} is there already: name a new file, nothing is overwritten`);
  wantFolderOf(output);
  const { service, files } = await findInputs(paths, vehicle);
  const sessions = files.filter(({ kind }) => kind === 'session');
  if (sessions.length === 0) throw new Failure(`no session below ${paths.join(', ')}`);
  const bar = progressBar(sessions.length);
  const leftOut = new Map<string, number>();
  try {
    await fillNewFile(output, async (path) => {
      const parquet = await openParquet(path);
      for (const [done, { uri }] of sessions.entries()) {
        const name = fromWorkingFolder(uri);
        bar.at(done, name);
        const signals = (await service.documents.signals(uri))?.value;
        if (!signals) throw new Failure(`${name} went away meanwhile`);
        const folder = await service.vehicleFolder(uri);
        const names = { vehicle: folder ? (folder.document.vehicle.name ?? baseName(folder.uri)) : '', session: name };
        for (const { header } of channelsLeftOut(signals)) leftOut.set(header, (leftOut.get(header) ?? 0) + 1);
        for (let from = 0; from < signals.timeS.length; from += GROUP_ROWS) {
          await parquet.write(sampleValues(signals, names, from, Math.min(signals.timeS.length, from + GROUP_ROWS)));
        }
      }
      await parquet.finish();
    });
  } finally {
    bar.stop();
  }
  for (const [header, count] of leftOut)
    tell(`leanspot: left out channel "${header}" of ${counted(count, 'session')}: not recognised, or not the first of its kind\n`);
}
