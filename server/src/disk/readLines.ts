// A text file line by line, so that its size costs no memory.

import { createReadStream } from 'node:fs';
import { createInterface } from 'node:readline';

/** Lines of a UTF-8 file without their ends. Throws the system's error with `path` where it cannot be read. */
export async function* readLines(path: string): AsyncGenerator<string> {
  const input = createReadStream(path, 'utf8');
  try {
    yield* createInterface({ input, crlfDelay: Infinity });
  } catch (error) {
    throw Object.assign(error as Error, { path });
  } finally {
    input.destroy();
  }
}
