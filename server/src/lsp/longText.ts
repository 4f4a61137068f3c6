// A long text that is open, kept in blocks of whole lines: a key copies one block and not the whole, and lines are counted as fast as they
// are found.

import type { TextDocumentContentChangeEvent } from 'vscode-languageserver';
import type { TextDocument } from 'vscode-languageserver-textdocument';
import type { Position, Range } from '../formats/range.js';
import { bytesSource, type ByteSource } from '../formats/source.js';
import { withMore } from './sharedBytes.js';

/** Characters of a block, with the rest of its last line. */
const BLOCK_LENGTH = 1 << 16;
const LINE_FEED = 10;

/** Each but the last ends with a line feed. `ends`: where its lines end, behind their line ends. */
interface Block {
  readonly text: string;
  readonly ends: readonly number[];
}
/** Where in the text a block begins. */
interface Start {
  readonly block: Block;
  readonly index: number;
  readonly offset: number;
  readonly line: number;
}

/**
 * A text as it came in a message: its UTF-8, behind which its memory is free, and the bytes `from` (inclusive) to `to` (exclusive) of it as
 * a string.
 */
export interface ArrivedText {
  readonly bytes: Uint8Array;
  text(from?: number, to?: number): string;
}

/** What is asked of an open text, long or not. */
export type OpenText = Pick<TextDocument, 'uri' | 'languageId' | 'version' | 'lineCount' | 'getText' | 'positionAt' | 'offsetAt'>;

/** Answers as the protocol's own `TextDocument` does; places beyond a line or the text are taken for its end. */
export class LongText implements OpenText {
  readonly uri: string;
  readonly languageId: string;
  version: number;
  /** As it came, until it is edited. */
  private arrived: ArrivedText | undefined;
  private made: Block[] | undefined;
  private whole: string | undefined;
  private knownLength: number | undefined;
  /** The UTF-8 of its first characters. */
  private encoded: { readonly bytes: Uint8Array; readonly characters: number } | undefined;
  /** Whether it was asked for growth, its characters then, and from which one on it was edited since. */
  private asked: { readonly length: number; readonly untouched: number } | 'unedited' | undefined;

  constructor(
    uri: string,
    languageId: string,
    version: number,
    content: string | ArrivedText,
    private readonly blockLength = BLOCK_LENGTH,
  ) {
    [this.uri, this.languageId, this.version] = [uri, languageId, version];
    if (typeof content === 'string') this.put(content);
    else this.arrived = content;
  }

  /** Of a text that came as bytes they are made when a place in it is asked for. */
  private get blocks(): Block[] {
    return (this.made ??= this.cut(
      this.arrived!.bytes.length,
      (from) => this.arrived!.bytes.indexOf(LINE_FEED, from),
      (from, to) => this.arrived!.text(from, to),
    ));
  }

  get length(): number {
    return (this.knownLength ??= this.blocks.reduce((sum, { text }) => sum + text.length, 0));
  }

  /** Characters, or bytes where it is as it came: nothing is made for this. */
  get size(): number {
    return this.arrived?.bytes.length ?? this.length;
  }

  /** Whether more has come behind what it was when this was asked last, and nothing else. */
  hasGrown(): boolean {
    const { asked } = this;
    this.asked = 'unedited';
    return typeof asked === 'object' && asked.untouched >= asked.length && this.length > asked.length;
  }

  /** Its bytes, of which only those are made that came behind what they were when this was asked last. */
  source(): ByteSource {
    if (this.arrived) return bytesSource(this.arrived.bytes);
    const { bytes, characters } = this.encoded ?? { bytes: new Uint8Array(0), characters: 0 },
      first = this.startAt(characters);
    const text = [first.block.text.slice(characters - first.offset), ...this.blocks.slice(first.index + 1).map((block) => block.text)].join(
        '',
      ),
      all = withMore(bytes, text);
    // Half a pair is written otherwise when the other half comes.
    this.encoded = /[\ud800-\udbff]$/.test(text) ? undefined : { bytes: all, characters: this.length };
    return bytesSource(all);
  }

  get lineCount(): number {
    return this.blocks.reduce((sum, { ends }) => sum + ends.length, 1);
  }

  getText(range?: Range): string {
    if (!range) return (this.whole ??= this.blocks.map(({ text }) => text).join(''));
    const [from, to] = this.offsets(range),
      first = this.startAt(from),
      last = this.startAt(to);
    const texts = this.blocks.slice(first.index, last.index + 1).map(({ text }) => text);
    texts[texts.length - 1] = last.block.text.slice(0, to - last.offset);
    texts[0] = texts[0].slice(from - first.offset);
    return texts.join('');
  }

  positionAt(offset: number): Position {
    const start = this.startAt(Math.max(0, Math.min(offset, this.length))),
      { text, ends } = start.block;
    const within = Math.max(0, Math.min(offset, this.length)) - start.offset;
    let [low, high] = [0, ends.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (ends[middle] > within) high = middle;
      else low = middle + 1;
    }
    const from = low === 0 ? 0 : ends[low - 1];
    return { line: start.line + low, character: beforeLineEnd(text, within, from) - from };
  }

  offsetAt({ line, character }: Position): number {
    if (line < 0) return 0;
    let start = this.startAt(0);
    while (line >= start.line + start.block.ends.length && start.index < this.blocks.length - 1) start = this.after(start);
    const { text, ends } = start.block,
      at = line - start.line;
    if (at > ends.length) return this.length;
    const from = at === 0 ? 0 : ends[at - 1],
      to = at < ends.length ? ends[at] : text.length;
    return start.offset + (character <= 0 ? from : beforeLineEnd(text, Math.min(from + character, to), from));
  }

  update(changes: readonly TextDocumentContentChangeEvent[], version: number): this {
    for (const change of changes) {
      if ('range' in change) {
        const [from, to] = this.offsets(change.range),
          first = this.startAt(from);
        this.edited(from);
        let last = this.startAt(to),
          text = first.block.text.slice(0, from - first.offset) + change.text + last.block.text.slice(to - last.offset);
        if (!text.endsWith('\n') && last.index < this.blocks.length - 1) text += (last = this.after(last)).block.text;
        this.knownLength = this.length + change.text.length - (to - from);
        this.blocks.splice(first.index, last.index - first.index + 1, ...this.cutText(text));
        this.arrived = this.whole = undefined;
      } else {
        this.edited(0);
        this.put(change.text);
      }
    }
    this.version = version;
    return this;
  }

  private edited(from: number): void {
    if (this.arrived) this.encoded = { bytes: this.arrived.bytes, characters: this.length };
    if (this.encoded && from < this.encoded.characters) this.encoded = undefined;
    if (this.asked)
      this.asked =
        this.asked === 'unedited'
          ? { length: this.length, untouched: from }
          : { ...this.asked, untouched: Math.min(from, this.asked.untouched) };
  }

  private put(text: string): void {
    [this.arrived, this.encoded, this.whole, this.knownLength, this.made] = [undefined, undefined, text, text.length, this.cutText(text)];
  }

  private cutText(text: string): Block[] {
    return this.cut(
      text.length,
      (from) => text.indexOf('\n', from),
      (from, to) => text.slice(from, to),
    );
  }

  /** A text of so many characters or bytes in blocks: `lineFeed` finds the next one, `part` makes a string of it. */
  private cut(length: number, lineFeed: (from: number) => number, part: (from: number, to: number) => string): Block[] {
    const blocks: Block[] = [];
    let from = 0;
    do {
      const to = lineFeed(from + this.blockLength - 1) + 1 || length,
        text = part(from, to);
      blocks.push({ text, ends: lineEndsOf(text) });
      from = to;
    } while (from < length);
    return blocks;
  }

  private offsets({ start, end }: Range): [number, number] {
    const [a, b] = [this.offsetAt(start), this.offsetAt(end)];
    return a < b ? [a, b] : [b, a];
  }

  /** The block that an offset lies in: of two the one that begins there. */
  private startAt(offset: number): Start {
    let start: Start = { block: this.blocks[0], index: 0, offset: 0, line: 0 };
    while (offset >= start.offset + start.block.text.length && start.index < this.blocks.length - 1) start = this.after(start);
    return start;
  }

  private after({ block, index, offset, line }: Start): Start {
    return { block: this.blocks[index + 1], index: index + 1, offset: offset + block.text.length, line: line + block.ends.length };
  }
}

function lineEndsOf(text: string): number[] {
  if (text.includes('\r')) return Array.from(text.matchAll(/\r\n|\r|\n/g), (end) => end.index + end[0].length);
  const ends: number[] = [];
  for (let at = 0; (at = text.indexOf('\n', at) + 1) > 0;) ends.push(at);
  return ends;
}

function beforeLineEnd(text: string, offset: number, from: number): number {
  let at = offset;
  while (at > from && /[\r\n]/.test(text[at - 1])) at--;
  return at;
}
