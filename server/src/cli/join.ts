// `leanspot join`: one session from two loggers of the same drive.

import { basename } from 'node:path';
import type { Command } from 'commander';
import { uriOf, diskWorkspace } from '../disk/diskWorkspace.js';
import { fileExists, writeBytes } from '../disk/writeFile.js';
import { QUANTITIES } from '../quantities/quantity.js';
import { joinSessions, type NamedSession } from '../service/joinSessions.js';
import { createFileService } from '../service/fileService.js';
import { Failure } from './failure.js';
import { counted } from './output/words.js';
import { write } from './output/write.js';
import { wantFile, wantFolderOf } from './paths.js';

export function registerJoin(program: Command): void {
  program
    .command('join')
    .summary('one session from two loggers of the same drive')
    .description(
      'Brings two logs of the same drive onto one clock by the engine speed that both have (else throttle, pedal, pressure, air flow, road speed), and writes them as one session. Refuses where the match is poor or not the only one.',
    )
    .argument('<a>', 'a session; its clock holds, and its channels stand where both have a quantity')
    .argument('<b>', "the other logger's session")
    .requiredOption('--output <file>', 'the session to write, NAME.session.csv; nothing is overwritten')
    .option('--vehicle <file>', 'vehicle file, instead of the nearest vehicle.json above each')
    .option('--verbose', 'show details where something goes wrong inside Leanspot')
    .addHelpText(
      'after',
      `
Example:
  leanspot join ecu.session.csv wideband.session.csv --output drive.session.csv`,
    )
    .action(join);
}

async function join(first: string, second: string, { output, vehicle }: { output: string; vehicle?: string }): Promise<void> {
  if (vehicle !== undefined) wantFile(vehicle, 'vehicle file');
  for (const path of [first, second]) wantFile(path, 'session');
  if (uriOf(first) === uriOf(second)) throw new Failure(`${first} is named twice: name the files of two loggers`);
  if (fileExists(output)) throw new Failure(`${output} is there already: name a new file, nothing is overwritten`);
  wantFolderOf(output);
  const { documents } = createFileService(diskWorkspace([uriOf('.')]), vehicle === undefined ? {} : { vehicleUri: uriOf(vehicle) });
  const read = async (path: string): Promise<NamedSession> => {
    const session = await documents.session(uriOf(path));
    if (!session || session.samples === 0) throw new Failure(`${path} does not read as a session`);
    return { session, name: basename(path) };
  };
  const joined = joinSessions(await read(first), await read(second));
  if ('refused' in joined) throw new Failure(`${first} and ${second} cannot be joined: ${joined.refused}`);
  writeBytes(output, new TextEncoder().encode([...joined.text].join('')), { isNew: true });
  const left =
    joined.doubled.length === 0
      ? ''
      : `\nBoth have ${joined.doubled.join(', ')}: that of ${first} stands, the other is kept as "second logger: …".`;
  const { quantity } = joined.match;
  write(
    `Joined ${joined.words}.\n${counted(joined.rows, 'row')}, ${joined.durationS.toFixed(1)} s.${left}\nWrote ${output}. Lay the ${QUANTITIES[quantity].title} of both over each other before anything is concluded from it.\n`,
  );
}
