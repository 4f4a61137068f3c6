// The command line: registers the commands, and turns whatever goes wrong into one line and an exit status.

import { Command, CommanderError } from 'commander';
import { surviveClosedPipes, tell } from './output/write.js';
import { visible } from './output/words.js';
import { VERSION } from '../protocol/version.js';

/**
 * Each command's file, in the order of the help. One alone is loaded where it alone is asked for: with it comes what it needs of the
 * service.
 */
const COMMANDS: Readonly<Record<string, () => Promise<(program: Command) => void>>> = {
  check: async () => (await import('./check.js')).registerCheck,
  weigh: async () => (await import('./weigh.js')).registerWeigh,
  correct: async () => (await import('./correct.js')).registerCorrect,
  compare: async () => (await import('./compare.js')).registerCompare,
  diff: async () => (await import('./diff.js')).registerDiff,
  report: async () => (await import('./report.js')).registerReport,
  convert: async () => (await import('./convert.js')).registerConvert,
  export: async () => (await import('./export.js')).registerExport,
  join: async () => (await import('./join.js')).registerJoin,
  serve: async () => (await import('./serve.js')).registerServe,
};

const loadedFor = (first: string): string[] =>
  Object.hasOwn(COMMANDS, first) ? [first] : first === '--version' || first === '-V' ? [] : Object.keys(COMMANDS);

async function createProgram(first: string): Promise<Command> {
  const program = new Command('leanspot')
    .description('Is this engine safe, where is it not, what do I change? Checks engine session logs and fuel tables.')
    .version(VERSION)
    .exitOverride()
    .configureOutput({
      outputError: (text, writeError) =>
        writeError(
          `leanspot: ${visible(
            text
              .replace(/^error: /, '')
              .trim()
              .replace(/\s*\n\s*/g, ' '),
          )}\n`,
        ),
    })
    .addHelpText(
      'after',
      `
Examples:
  leanspot check .
  leanspot convert 0.82 lambda --fuel E85
  leanspot help check`,
    );
  for (const name of loadedFor(first)) (await COMMANDS[name]())(program);
  return program;
}

async function main(args: readonly string[]): Promise<void> {
  surviveClosedPipes();
  try {
    if (args.length === 0) throw new CommanderError(2, 'leanspot.noCommand', 'no command given');
    await (await createProgram(args[0])).parseAsync(args, { from: 'user' });
  } catch (error) {
    if (error instanceof CommanderError) {
      // Help and version were asked for; anything else commander has told already.
      if (error.code === 'leanspot.noCommand') tell('leanspot: no command given; leanspot --help lists them\n');
      process.exitCode = error.exitCode === 0 ? 0 : 2;
      return;
    }
    const { lineFor } = await import('./failure.js');
    tell(`leanspot: ${lineFor(error)}\n`);
    if (args.includes('--verbose') && error instanceof Error) tell(`${error.stack}\n`);
    process.exitCode = 2;
  }
}

void main(process.argv.slice(2));
