// The lines of a source one after the other, chunk by chunk: what is no line of a text (a file without line ends) costs no memory.

import type { ByteSource } from '../source.js';
import { Window, nextLine } from '../csv/window.js';

/** No frame's line is longer: a clock, an interface and 64 bytes of data with dots between them stay well below. */
export const LONGEST_LINE_BYTES = 1024;

export interface LineReader {
  /** A line, its line end taken off: `bytes[start..end)`. `offset` is its place in the source; `closed` where a line end follows. */
  line(bytes: Uint8Array, start: number, end: number, offset: number, line: number, closed: boolean): void;
  /** A line too long to be a frame, from its beginning. */
  tooLong(line: number): void;
}

/** Calls the reader for each line of the source. A byte order mark is passed over. */
export const readLines = (source: ByteSource, chunkBytes: number, reader: LineReader): void => {
  const mark = source.read(0, 3);
  const window = new Window(source, mark[0] === 0xef && mark[1] === 0xbb && mark[2] === 0xbf ? 3 : 0, chunkBytes);
  let at = 0;
  let line = 0;
  let passing = false;
  for (;;) {
    window.refill(at);
    at = 0;
    const whole = window.ended ? window.length : window.lastLineEnd(0);
    while (at < whole) {
      const behind = nextLine(window.bytes, at, whole);
      let end = behind;
      if (end > at && window.bytes[end - 1] === 10) end--;
      if (end > at && window.bytes[end - 1] === 13) end--;
      const closed = end < behind;
      if (passing) passing = false;
      else if (end - at > LONGEST_LINE_BYTES) reader.tooLong(line);
      else reader.line(window.bytes, at, end, window.base + at, line, closed);
      at = behind;
      line++;
    }
    if (window.ended) return;
    if (window.length - at > LONGEST_LINE_BYTES + 2) {
      if (!passing) reader.tooLong(line);
      passing = true;
      at = window.bytes[window.length - 1] === 13 ? window.length - 1 : window.length; // its line feed may be the next byte
    }
  }
};
