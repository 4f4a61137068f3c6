// Where results go: standard output and nothing else, also when its reader has gone.

/** Writes a text to standard output. Whoever reads it may stop reading (`| head`); that is no error. */
export function write(text: string): void {
  process.stdout.write(text);
}

/** To be called once: a closed pipe ends the program quietly. */
export function surviveClosedPipes(): void {
  for (const stream of [process.stdout, process.stderr]) {
    stream.on('error', (error: NodeJS.ErrnoException) => {
      if (error.code === 'EPIPE') process.exit();
      throw error;
    });
  }
}
