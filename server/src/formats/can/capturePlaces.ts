// From the samples of a capture to places in its text and back; only the offsets of answering frames are kept, their lines are read again.

import type { SessionPlaces } from '../session/session.js';
import type { ByteSource } from '../source.js';
import { range, type Range } from '../range.js';
import type { BytesPlace } from './answers.js';
import { dataByteAt, newFrame, readCandumpLine } from './candumpLine.js';
import { LONGEST_LINE_BYTES } from './lines.js';

/** What places are found from: frames by tag, samples and readings as in `Answers`. */
export interface CaptureIndex {
  readonly source: ByteSource;
  readonly frameOffsets: Float64Array;
  readonly frameLines: Int32Array;
  readonly sampleTag: Int32Array;
  readonly sampleFirst: Int32Array;
  readonly channel: Int32Array;
  readonly tag: Int32Array;
  readonly place: Int32Array;
  /** A reading as text, for `cellText`. */
  readonly textOf: (channel: number, sample: number) => string;
}

/** A message in several frames may have begun this many samples before its line in the text is asked for. */
const LOOK_AHEAD_SAMPLES = 8;

export const capturePlaces = (
  index: CaptureIndex,
): SessionPlaces & {
  readonly bytesRange: (place: BytesPlace) => Range;
  readonly clockRange: (sample: number) => Range;
  readonly lineRange: (sample: number) => Range;
} => {
  const frame = newFrame();
  const samples = index.sampleTag.length;

  /** Reads the line of a tag again: its bytes, and `frame` as a side effect. */
  const line = (tag: number): { bytes: Uint8Array; line: number; end: number } => {
    const offset = index.frameOffsets[tag];
    const bytes = index.source.read(offset, Math.min(index.source.size, offset + LONGEST_LINE_BYTES + 2));
    let end = 0;
    while (end < bytes.length && bytes[end] !== 10 && bytes[end] !== 13) end++;
    readCandumpLine(bytes, 0, end, frame);
    return { bytes, line: index.frameLines[tag], end };
  };
  const bytesRange = ({ tag, from, bytes: count }: BytesPlace): Range => {
    const at = line(tag);
    const last = from + count - 1;
    return range(at.line, dataByteAt(at.bytes, frame, from), at.line, dataByteAt(at.bytes, frame, last) + 2);
  };
  const placeOf = (reading: number): BytesPlace => ({
    tag: index.tag[reading],
    from: index.place[reading] & 255,
    bytes: index.place[reading] >> 8,
  });
  const dataRange = (sample: number): Range => {
    const at = line(index.sampleTag[sample]);
    return range(at.line, frame.dataStart, at.line, frame.dataEnd);
  };
  const clockRange = (sample: number): Range => {
    const at = line(index.sampleTag[sample]);
    return range(at.line, at.bytes.indexOf(40), at.line, at.bytes.indexOf(41) + 1);
  };
  const lineRange = (sample: number): Range => {
    const at = line(index.sampleTag[sample]);
    return range(at.line, 0, at.line, at.end);
  };
  const readingsOf = (sample: number): [from: number, to: number] => [
    index.sampleFirst[sample],
    sample + 1 < samples ? index.sampleFirst[sample + 1] : index.channel.length,
  ];
  const cellRange = (channel: number, sample: number): Range => {
    if (channel < 0) return clockRange(sample);
    const [from, to] = readingsOf(sample);
    for (let reading = from; reading < to; reading++) if (index.channel[reading] === channel) return bytesRange(placeOf(reading));
    return dataRange(sample);
  };
  const lineOf = (sample: number): number => index.frameLines[index.sampleTag[sample]];
  const hasReadingIn = (sample: number, wanted: number): boolean => {
    const [from, to] = readingsOf(sample);
    for (let reading = from; reading < to; reading++) if (index.frameLines[index.tag[reading]] === wanted) return true;
    return false;
  };
  const sampleAt = (wanted: number): number | undefined => {
    let low = 0;
    let high = samples;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (lineOf(middle) < wanted) low = middle + 1;
      else high = middle;
    }
    if (low < samples && lineOf(low) === wanted) return low;
    for (let sample = Math.max(0, low - 1); sample < Math.min(samples, low + LOOK_AHEAD_SAMPLES); sample++)
      if (hasReadingIn(sample, wanted)) return sample;
    return undefined;
  };
  return {
    bytesRange,
    clockRange,
    lineRange,
    cellRange,
    lineOf,
    sampleAt,
    spanRange: (channel, fromSample, toSample) => {
      const from = cellRange(channel, fromSample);
      const { end } = cellRange(channel, toSample);
      const ordered = end.line > from.end.line || (end.line === from.end.line && end.character >= from.end.character);
      return { start: from.start, end: ordered ? end : from.end };
    },
    cellText: (channel, sample) => (channel < 0 ? '' : index.textOf(channel, sample)),
    channelAt: (wanted, character) => {
      const sample = sampleAt(wanted);
      if (sample === undefined) return undefined;
      const clock = clockRange(sample);
      if (clock.start.line === wanted && character <= clock.end.character) return -1;
      const [from, to] = readingsOf(sample);
      for (let reading = from; reading < to; reading++) {
        const { start, end } = bytesRange(placeOf(reading));
        if (start.line === wanted && start.character <= character && character < end.character) return index.channel[reading];
      }
      return undefined;
    },
  };
};
