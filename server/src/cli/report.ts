// `leanspot report`: one self-contained page for the customer and the file.

import type { Command } from 'commander';
import { diskWorkspace, pathKind, uriOf } from '../disk/diskWorkspace.js';
import { fileSource } from '../disk/fileSource.js';
import { writeBytes } from '../disk/writeFile.js';
import { gather } from '../report/gather.js';
import { REPORT_MARK, reportPage } from '../report/page.js';
import { isReportDate, today } from '../report/date.js';
import { createFileService } from '../service/fileService.js';
import { VEHICLE_FILE } from '../service/fileKind.js';
import { sessionsOf } from '../service/vehicleFolders.js';
import { Failure } from './failure.js';
import { write } from './output/write.js';
import { VERSION } from '../protocol/version.js';
import { wantFolderOf } from './paths.js';
import { tellLeftOut } from './tableInput.js';
import { weighWithBar } from './weigh.js';

interface ReportCommandOptions {
  readonly output: string;
  readonly date?: string;
}

export function registerReport(program: Command): void {
  program
    .command('report')
    .summary('one self-contained page for the customer and the file')
    .description(
      'Writes one HTML page on a vehicle: verdict, worst moments, hardware headroom, fuel table with proof and proposal, every pull with its plot, what could not be known. It needs no network and no script; print it to make a PDF.',
    )
    .argument('<vehicle-folder>', 'a folder that holds a vehicle.json')
    .requiredOption('--output <file>', 'the page to write')
    .option('--date <yyyy-mm-dd>', "date on the page, instead of today's; with the same files it makes the same bytes")
    .option('--verbose', 'show details where something goes wrong inside Leanspot')
    .addHelpText(
      'after',
      `
Examples:
  leanspot report . --output report.html
  leanspot report cars/bramble-coupe --output bramble.html --date 2026-09-16`,
    )
    .action(writeReport);
}

const HEAD_BYTES = 4096;

/** An earlier report may be written over: it can be made again from its files. */
function isReport(path: string): boolean {
  const source = pathKind(path) === 'file' ? fileSource(path) : undefined;
  return source !== undefined && new TextDecoder().decode(source.read(0, HEAD_BYTES)).includes(REPORT_MARK);
}

async function writeReport(path: string, { output, date = today() }: ReportCommandOptions): Promise<void> {
  if (!isReportDate(date)) throw new Failure(`--date wants a day such as 2026-09-16, not "${date}"`);
  if (pathKind(path) !== 'folder') throw new Failure(`no such folder: ${path}`);
  if (pathKind(output) === 'folder') throw new Failure(`${output} is a folder: name a file for the page`);
  if (pathKind(output) !== undefined && !isReport(output))
    throw new Failure(`${output} is there already and is no earlier report: name a new file`);
  wantFolderOf(output);
  const workspace = diskWorkspace([uriOf(path)]);
  const service = createFileService(workspace);
  const folder = await service.vehicleFolder(uriOf(`${path}/${VEHICLE_FILE}`));
  if (!folder || pathKind(`${path}/${VEHICLE_FILE}`) !== 'file')
    throw new Failure(`no ${VEHICLE_FILE} in ${path}: that file makes a folder a vehicle's`);
  const sessions = await sessionsOf(workspace, folder);
  await tellLeftOut(service, folder.fileUri);
  const report = await weighWithBar(sessions, (progress) => gather(workspace, service, folder, { date, version: VERSION, progress }));
  writeBytes(output, new TextEncoder().encode(reportPage(report)), { isNew: pathKind(output) === undefined });
  write(
    `Wrote ${output}: ${report.sessions.length} session${report.sessions.length === 1 ? '' : 's'}, ${report.sessions.reduce((sum, { pulls }) => sum + pulls.length, 0)} pulls\n`,
  );
}
