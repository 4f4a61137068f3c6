// Long work shown on a terminal: a bar on standard error, nothing at all in a pipe.

import { Presets, SingleBar } from 'cli-progress';
import { visible } from './output/words.js';

export interface ProgressBar {
  /** What is being done now, and how many pieces are done. */
  at(done: number, what: string): void;
  stop(): void;
}

/**
 * A bar over `total` pieces; silent where `stream` is no terminal, or one that the user wants no escape codes on (no-color.org), or the
 * work is a single piece.
 */
export function progressBar(total: number, stream: NodeJS.WriteStream = process.stderr, env: NodeJS.ProcessEnv = process.env): ProgressBar {
  if (!stream.isTTY || env.NO_COLOR || env.TERM === 'dumb' || total < 2) return { at: () => undefined, stop: () => undefined };
  const bar = new SingleBar(
    { format: '{bar} {value}/{total} {what}', stream, clearOnComplete: true, hideCursor: true, barsize: 24, linewrap: false },
    Presets.shades_classic,
  );
  bar.start(total, 0, { what: '' });
  return { at: (done, what) => bar.update(done, { what: visible(what) }), stop: () => bar.stop() };
}
