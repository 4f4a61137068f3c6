// The command line: registers the commands, and turns whatever goes wrong into one line and an exit status.

import { Command, CommanderError } from 'commander';
import { registerCheck } from './check.js';
import { registerCompare } from './compare.js';
import { registerConvert } from './convert.js';
import { registerCorrect } from './correct.js';
import { registerDiff } from './diff.js';
import { registerExport } from './export.js';
import { registerJoin } from './join.js';
import { lineFor } from './failure.js';
import { surviveClosedPipes, tell } from './output/write.js';
import { registerReport } from './report.js';
import { registerServe } from './serve.js';
import { visible } from './output/words.js';
import { VERSION } from '../protocol/version.js';
import { registerWeigh } from './weigh.js';

function createProgram(): Command {
  const program = new Command('leanspot')
    .description('Is this engine safe, where is it not, what do I change? Checks engine session logs and fuel tables.')
    .version(VERSION)
    .exitOverride()
    .configureOutput({ outputError: (text, writeError) => writeError(`leanspot: ${visible(text.replace(/^error: /, '').trim().replace(/\s*\n\s*/g, ' '))}\n`) })
    .addHelpText('after', `
Examples:
  leanspot check .
  leanspot convert 0.82 lambda --fuel E85
  leanspot help check`);
  registerCheck(program);
  registerWeigh(program);
  registerCorrect(program);
  registerCompare(program);
  registerDiff(program);
  registerReport(program);
  registerConvert(program);
  registerExport(program);
  registerJoin(program);
  registerServe(program);
  return program;
}

async function main(args: readonly string[]): Promise<void> {
  surviveClosedPipes();
  try {
    if (args.length === 0) throw new CommanderError(2, 'leanspot.noCommand', 'no command given');
    await createProgram().parseAsync(args, { from: 'user' });
  } catch (error) {
    if (error instanceof CommanderError) {
      // Help and version were asked for; anything else commander has told already.
      if (error.code === 'leanspot.noCommand') tell('leanspot: no command given; leanspot --help lists them\n');
      process.exitCode = error.exitCode === 0 ? 0 : 2;
      return;
    }
    tell(`leanspot: ${lineFor(error)}\n`);
    if (args.includes('--verbose') && error instanceof Error) tell(`${error.stack}\n`);
    process.exitCode = 2;
  }
}

void main(process.argv.slice(2));
