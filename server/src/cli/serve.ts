// `leanspot serve`: the language server on standard input and output.

import { Option, type Command } from 'commander';
import { Failure } from './failure.js';

export function registerServe(program: Command): void {
  program
    .command('serve')
    .summary('the language server')
    .description('Runs the language server for an editor; it speaks LSP 3.17 on standard input and output.')
    .option('--stdio', 'speak on standard input and output (the only way there is)')
    // Editors add it so that a server ends with them; the protocol library reads it from the arguments itself.
    .addOption(new Option('--clientProcessId <pid>').hideHelp())
    .addHelpText(
      'after',
      `
Example:
  leanspot serve --stdio`,
    )
    .action(async ({ stdio }: { stdio?: true }) => {
      // Somebody at a terminal would wait for an answer that never comes.
      if (!stdio) throw new Failure('say leanspot serve --stdio: an editor speaks with the server on standard input and output');
      // Loaded only here: the protocol's library is a third of the program and no other command wants it.
      const threads = (await import('../disk/sessionThreads.js')).threadsOfServer();
      await (await import('../lsp/main.js')).serveStdio(threads);
    });
}
