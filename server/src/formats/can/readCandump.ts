// Reads a raw CAN capture of OBD-II traffic as a session: frames to answers, answers to channels and trouble codes. Never throws on what a
// file holds.

import type { LoggedCode, Note, Session } from '../session/session.js';
import { bytesSource, type ByteSource } from '../source.js';
import { finishSession, metadataOf, type ReadOptions } from '../session/assemble.js';
import { makeChannels, sayUnits } from '../session/convertColumns.js';
import { TextReader } from '../csv/dialect.js';
import { readNote } from '../csv/rows.js';
import { limitOf } from '../limits.js';
import { ProblemBook } from '../problemBook.js';
import { range, type Range } from '../range.js';
import { sayTime } from '../session/saying.js';
import { isoOf, layTime, type LaidTime } from '../session/time.js';
import { UNITS } from '../../quantities/units.js';
import { Answers, type Controller, type LeftOver } from './answers.js';
import { newFrame, readCandumpLine, type Frame } from './candumpLine.js';
import { capturePlaces } from './capturePlaces.js';
import { planChannels, rangedFactor } from './channels.js';
import { growingDoubles, growingIntegers } from './growing.js';
import { readLines, type LineReader } from './lines.js';
import { Reassembler } from './transport.js';

const CHUNK_BYTES = 1 << 20;
/** Control units kept apart; ISO 15765-4 knows of eight on eleven bits, 29 bits could say 256. */
const MOST_CONTROLLERS = 64;
const NOTES_KEPT = 1000;
/** Cells of all columns together: 1 GiB of numbers. Channels beyond it are left out, those that came last first. */
const MOST_CELLS = 1 << 27;
const FEWEST_CHANNELS = 16;
const TIME_HEADER = 'Time';
const HASH = 35;
/** Clocks above it count from 1970, as the logger's do. */
const LOOKS_LIKE_EPOCH_S = 1e8;
/** A first answer later than this after the first frame: the clock was set in between. */
const LONGEST_LEAD_S = 86400;

/** Whether an identifier is a controller's answer to a tester: 7E8–7EF, 18DAF1xx (ISO 15765-4). */
const isAnswer = (id: number, extended: boolean): boolean => (extended ? (id & 0x1fffff00) === 0x18daf100 : id >= 0x7e8 && id <= 0x7ef);
/** Whether an identifier is a tester's request or flow control: 7DF, 7E0–7E7, 18DB33F1, 18DAxxF1 (ISO 15765-4). */
const isRequest = (id: number, extended: boolean): boolean =>
  extended ? id === 0x18db33f1 || (id & 0x1fff00ff) === 0x18da00f1 : id === 0x7df || (id >= 0x7e0 && id <= 0x7e7);

/** Whether a text begins as a capture: its first line that is neither blank nor a note is a frame. */
export const looksLikeCandump = (source: ByteSource): boolean => {
  let first: boolean | undefined;
  readLines(bytesSource(source.read(0, 4096).slice()), 4096, {
    line: (bytes, start, end) => {
      if (first === undefined && !isBlankOrNote(bytes, start, end)) first = readCandumpLine(bytes, start, end, newFrame()) === undefined;
    },
    tooLong: () => {
      first ??= false;
    },
  });
  return first === true;
};

const firstInk = (bytes: Uint8Array, start: number, end: number): number => {
  while (start < end && (bytes[start] === 32 || bytes[start] === 9)) start++;
  return start;
};
const isBlankOrNote = (bytes: Uint8Array, start: number, end: number): boolean => {
  const at = firstInk(bytes, start, end);
  return at === end || bytes[at] === HASH;
};

/**
 * Reads a capture in the text form of the Linux can-utils logger, chunk by chunk. A sample is the moment of an answer (those at one clock
 * share it), counted in seconds from the first frame; a channel's values are NaN where it was not answered. The first controller that
 * answers an identifier has the plain channel name, any other its own behind it. What is wrong or was left stands in `problems`.
 */
export const readCandump = (source: ByteSource, options: ReadOptions = {}): Session => readCandumpBy(source, options, CHUNK_BYTES);

/** `readCandump` by a stated chunk size, for comparing. */
export const readCandumpBy = (source: ByteSource, options: ReadOptions, chunkBytes: number): Session => {
  const capture = new Capture();
  readLines(source, chunkBytes, capture);
  capture.end();
  return assemble(source, capture, options);
};

/** What came up beside the answers. */
class Capture implements LineReader {
  readonly book = new ProblemBook();
  readonly answers = new Answers();
  readonly notes: Note[] = [];
  readonly frameOffsets = growingDoubles();
  readonly frameLines = growingIntegers();
  frames = 0;
  inkLines = 0;
  firstS: number | undefined;
  otherFrames = 0;
  otherServices = 0;
  refused = 0;
  readonly unknownIdentifiers = new Set<number>();
  firstLeftLine: number | undefined;
  cutOffLine: number | undefined;
  private readonly text = new TextReader('utf-8');
  private readonly frame: Frame = newFrame();
  private readonly controllers = new Map<string, Controller>();
  private firstWholeS = 0;
  private firstFractionS = 0;

  line(bytes: Uint8Array, start: number, end: number, offset: number, line: number, closed: boolean): void {
    const ink = firstInk(bytes, start, end);
    if (ink === end) return;
    if (bytes[ink] === HASH) {
      if (this.notes.length < NOTES_KEPT) this.notes.push(readNote(this.text.text(bytes, start, end), line));
      return;
    }
    this.inkLines++;
    const { frame } = this;
    const refused = readCandumpLine(bytes, start, end, frame);
    if (refused) {
      if (!closed && this.frames > 0) {
        this.cutOffLine = line;
        return;
      }
      this.book.note('value-not-a-number', 'not-a-frame', -1, line, () => ({
        text: this.text.text(bytes, start, Math.min(end, start + 200)),
        why: refused.why,
        character: this.text.units(bytes, start, Math.min(refused.at, end)),
      }));
      return;
    }
    if (this.firstS === undefined) {
      this.firstWholeS = frame.wholeS;
      this.firstFractionS = frame.fractionS;
      this.firstS = frame.wholeS + frame.fractionS;
    }
    this.frames++;
    if (!frame.remote && !frame.error) {
      if (isAnswer(frame.id, frame.extended)) return this.answer(bytes, offset, line);
      if (isRequest(frame.id, frame.extended)) return undefined;
    }
    this.otherFrames++;
    this.firstLeftLine ??= line;
  }

  tooLong(line: number): void {
    this.inkLines++;
    this.book.note('value-not-a-number', 'not-a-frame', -1, line, () => ({ text: '', why: 'length', character: 0 }));
  }

  end(): void {
    for (const controller of this.controllers.values()) {
      const { reassembler } = controller;
      const before = reassembler.incomplete;
      reassembler.end();
      if (reassembler.incomplete > before) this.sayIncomplete(controller);
    }
  }

  private answer(bytes: Uint8Array, offset: number, line: number): void {
    const { frame } = this;
    const controller = this.controllerOf(this.text.text(bytes, frame.interfaceStart, frame.interfaceEnd));
    if (!controller) {
      this.otherFrames++;
      this.firstLeftLine ??= line;
      return;
    }
    const tag = this.frameLines.length;
    this.frameOffsets.push(offset);
    this.frameLines.push(line);
    // The difference of two clocks since 1970 is only as fine as they are; the nanosecond takes the binary dust off.
    const timeS = Math.round((frame.wholeS - this.firstWholeS + (frame.fractionS - this.firstFractionS)) * 1e9) / 1e9;
    const { reassembler } = controller;
    const before = reassembler.incomplete;
    const message = reassembler.take(frame.data, frame.length, timeS, tag);
    if (reassembler.incomplete > before) this.sayIncomplete(controller);
    if (message) this.leave(this.answers.take(message, controller, timeS, tag), controller, line);
  }

  private controllerOf(interfaceName: string): Controller | undefined {
    const { id, extended } = this.frame;
    const label = id
      .toString(16)
      .toUpperCase()
      .padStart(extended ? 8 : 3, '0');
    const key = `${label} ${interfaceName}`;
    let controller = this.controllers.get(key);
    if (!controller && this.controllers.size < MOST_CONTROLLERS) {
      controller = {
        index: this.controllers.size,
        label,
        interface: interfaceName,
        reassembler: new Reassembler(),
        tops: {},
        fourBanks: false,
      };
      this.controllers.set(key, controller);
    }
    return controller;
  }

  private sayIncomplete({ reassembler, label, index }: Controller): void {
    const line = this.frameLines.at(reassembler.incompleteTag);
    this.book.note('row-ragged', 'incomplete-message', index, line, () => ({ controller: label, why: reassembler.incompleteWhy }));
  }

  private leave(left: LeftOver, { label, index }: Controller, line: number): void {
    if (left.shortOf !== undefined) {
      this.book.note('row-ragged', 'answer-short', index, line, () => ({ controller: label, of: hex(left.shortOf as number) }));
      return;
    }
    if (left.otherService !== undefined) this.otherServices++;
    else if (left.refused) this.refused++;
    else if (left.unknownIdentifier !== undefined) this.unknownIdentifiers.add(left.unknownIdentifier);
    else return;
    this.firstLeftLine ??= line;
  }
}

const hex = (byte: number): string => byte.toString(16).toUpperCase().padStart(2, '0');
const wholeLine = (line: number): Range => range(line, 0, line + 1, 0);

const assemble = (source: ByteSource, capture: Capture, options: ReadOptions): Session => {
  const { answers, book } = capture;
  const samples = answers.timeS.length;
  const kept = Math.max(FEWEST_CHANNELS, Math.floor(MOST_CELLS / Math.max(1, samples)));
  const found = answers.channels.slice(0, kept);

  const columns = found.map(() => new Float64Array(samples).fill(NaN));
  const [channel, value, sampleFirst] = [answers.channel.finish(), answers.value.finish(), answers.sampleFirst.finish()];
  const factors = found.map(rangedFactor);
  for (let sample = 0; sample < samples; sample++) {
    const to = sample + 1 < samples ? sampleFirst[sample + 1] : value.length;
    for (let reading = sampleFirst[sample]; reading < to; reading++)
      if (channel[reading] < kept) columns[channel[reading]][sample] = value[reading] * factors[channel[reading]];
  }

  const tag = answers.tag.finish();
  const place = answers.place.finish();
  const order = [...found.keys()].sort((a, b) => planOrder(found[a], found[b]) || a - b);
  const newIndex = new Int32Array(answers.channels.length).fill(-1);
  order.forEach((old, index) => {
    newIndex[old] = index;
  });
  const places = capturePlaces({
    source,
    frameOffsets: capture.frameOffsets.finish(),
    frameLines: capture.frameLines.finish(),
    sampleTag: answers.sampleTag.finish(),
    sampleFirst,
    channel: channel.map((old) => newIndex[old]),
    tag,
    place,
    textOf: (index, sample) => {
      const shown = columns[order[index]][sample];
      return shown === shown ? String(Number(shown.toPrecision(7))) : '';
    },
  });

  const ordered = order.map((old) => found[old]);
  const plans = planChannels(
    ordered,
    ordered.map(({ first }) => places.bytesRange({ tag: tag[first], from: place[first] & 255, bytes: place[first] >> 8 })),
    options.vehicle,
  );
  const metadata = metadataOf(capture.notes);
  const channels = makeChannels(
    plans,
    order.map((old) => columns[old]),
    ordered.map(({ count }) => count),
    metadata,
    book,
  );
  sayUnits(plans, channels, book);

  const time = laterBy(
    layTime(answers.timeS.finish(), false, limitOf('timeGapS', options.vehicle?.limits ?? {}).value),
    answers.timeS.length > 0 ? answers.timeS.at(0) : 0,
  );
  const headerRange = samples > 0 ? places.lineRange(0) : range(0, 0, 0, 0);
  sayTime(time, TIME_HEADER, book, places.clockRange);
  sayCapture(capture, answers.channels.length - found.length, headerRange);

  return finishSession(
    { headerRange, encoding: 'utf-8', delimiter: ',', decimalComma: false },
    {
      book,
      channels,
      time,
      timeKind: 'column',
      notes: capture.notes,
      form: 'wide',
      places,
      timeColumn: {
        header: TIME_HEADER,
        unit: UNITS.s,
        startIso: capture.firstS !== undefined && capture.firstS > LOOKS_LIKE_EPOCH_S ? isoOf(capture.firstS) : undefined,
      },
      codes: answers.codes.map(({ text, state, controller, sample, ...bytes }): LoggedCode => {
        const at = places.bytesRange(bytes);
        return { text, sample, line: at.start.line, range: at, state, controller: controller.label };
      }),
    },
  );
};

/** By identifier, the controller that answered first before the others: the plain throttle position stands before the relative one. */
const planOrder = (a: Answers['channels'][number], b: Answers['channels'][number]): number =>
  a.identifier - b.identifier || a.part - b.part;

/** The time of samples counted from the first frame instead of the first answer. */
const laterBy = (time: LaidTime, leadS: number): LaidTime => {
  if (!(leadS > 0 && leadS < LONGEST_LEAD_S)) return time;
  return {
    ...time,
    timeS: time.timeS.map((timeS) => timeS + leadS),
    gaps: time.gaps.map((gap) => ({ ...gap, fromS: gap.fromS + leadS, toS: gap.toS + leadS })),
  };
};

/** Says what of the capture did not become a sample. */
const sayCapture = (capture: Capture, channelsLeftOut: number, headerRange: Range): void => {
  const { book, answers } = capture;
  if (capture.inkLines === 0) {
    book.place('channel-missing', 'empty', range(0, 0, 0, 0), {});
    return;
  }
  if (capture.frames === 0) {
    book.place('channel-missing', 'no-frames', range(0, 0, 0, 0), { lines: capture.inkLines }, { count: capture.inkLines });
    return;
  }
  for (const run of book.runs()) {
    const start = { line: run.fromSample, character: run.kind === 'not-a-frame' ? Number(run.facts.character) : 0 };
    book.place(run.code, run.kind, { start, end: { line: run.toSample + 1, character: 0 } }, run.facts, { count: run.count });
  }
  if (capture.cutOffLine !== undefined) book.place('row-ragged', 'frame-cut-off', wholeLine(capture.cutOffLine), {});
  if (channelsLeftOut > 0 || answers.readingsLeftOut > 0)
    book.place('row-ragged', 'too-many-channels', headerRange, { kept: answers.channels.length - channelsLeftOut });
  if (answers.timeS.length === 0) book.place('channel-missing', 'no-answers', range(0, 0, 0, 0), { frames: capture.frames });
  const unknown = [...capture.unknownIdentifiers].sort((a, b) => a - b).map(hex);
  if (capture.otherFrames + capture.otherServices + capture.refused + unknown.length > 0) {
    book.place(
      'channel-missing',
      'frames-left',
      wholeLine(capture.firstLeftLine ?? 0),
      {
        frames: capture.frames,
        otherFrames: capture.otherFrames,
        otherServices: capture.otherServices,
        refused: capture.refused,
        unknownIdentifiers: unknown,
      },
      { count: capture.otherFrames + capture.otherServices + capture.refused },
    );
  }
};
