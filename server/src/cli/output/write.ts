// Where results go: standard output and nothing else, also when its reader has gone; words beside them go to standard error. No text from a
// file steers the terminal.

import { visible } from './words.js';

/** Writes a text to standard output. Whoever reads it may stop reading (`| head`); that is no error. */
export function write(text: string): void {
  process.stdout.write(harmless(text));
}

/** Writes words for the user beside the results: to standard error. */
export function tell(text: string): void {
  process.stderr.write(harmless(text));
}

/** JSON in which no sign can steer a terminal: what JSON lets stand raw is escaped, the data is the same. */
export const jsonText = (value: unknown, replacer?: (key: string, value: unknown) => unknown): string =>
  JSON.stringify(value, replacer, 1).replace(UNSEEN, (sign) => `\\u${sign.charCodeAt(0).toString(16).padStart(4, '0')}`);

/** Deletes, the control characters of ISO 6429's upper half, line separators, and what turns the direction of writing. */
const UNSEEN = /[\u007f-\u009f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069]/g;

/** Line ends, tabs and our own colours are left. */
// eslint-disable-next-line no-control-regex
const KEPT = /(\n|\t|\u001b\[[\d;]*m)/;
const harmless = (text: string): string =>
  text
    .split(KEPT)
    .map((part, at) => (at % 2 === 1 ? part : visible(part)))
    .join('');

/** To be called once: into a closed pipe nothing more is written, and the program goes on to its own exit status. */
export function surviveClosedPipes(): void {
  for (const stream of [process.stdout, process.stderr]) {
    stream.on('error', (error: NodeJS.ErrnoException) => {
      if (error.code !== 'EPIPE') throw error;
      stream.write = () => true;
    });
  }
}
