// Turns rows into samples: what a cell that is no plain number means, which rows are short or long, which lines are notes.

import type { Note } from '../session/session.js';
import type { ProblemBook } from '../problemBook.js';
import { Columns, type Keeping } from './columns.js';
import type { TextReader } from './dialect.js';
import { readNumber } from './number.js';
import { partedNumber } from './partedNumber.js';
import type { QuotedRecord } from './quoted.js';
import { noteComma, type CommaCells } from './thousands.js';
import { nextLine } from './window.js';

/**
 * What a column's cells may hold beside numbers. `text` is a channel of which nothing is known, `name` one whose texts are kept and
 * numbered.
 */
export type CellKind = 'number' | 'time' | 'flag' | 'gear' | 'code' | 'text' | 'name';

/** Texts that loggers write for "nothing read". */
const PLACEHOLDERS = new Set([
  'nan',
  '-nan',
  '-',
  '--',
  '---',
  '----',
  'n/a',
  'na',
  '#n/a',
  'null',
  'none',
  'nil',
  '*',
  '?',
  'nodata',
  'no data',
  '-.-',
  '--.-',
  'invalid',
  '#value!',
  '#ref!',
]);
const FLAGS: ReadonlyMap<string, number> = new Map([
  ['true', 1],
  ['on', 1],
  ['yes', 1],
  ['active', 1],
  ['cut', 1],
  ['false', 0],
  ['off', 0],
  ['no', 0],
  ['inactive', 0],
]);
const GEARS: ReadonlyMap<string, number> = new Map([
  ['n', 0],
  ['p', 0],
  ['neutral', 0],
  ['park', 0],
  ['r', -1],
  ['reverse', -1],
  ['rev', -1],
]);
export const TROUBLE_CODE = /[PCBU][0-3][0-9A-F]{3}(?:-[0-9A-F]{2})?(?![0-9A-Z])/gi;

/** 1 or 0 for a word that says so. */
export const flagOf = (text: string): number | undefined => FLAGS.get(text.toLowerCase());
/** The number of a gear written as a letter: neutral and park 0, reverse −1. */
export const gearOf = (text: string): number | undefined => GEARS.get(text.toLowerCase());

/** So many names of the header in a row are a header. No source. */
const LEAST_NAMES = 3;
const ODD_TEXTS_KEPT = 1_000_000;
/** Changes of the trouble codes shown that are kept: no car has this many. */
const CODES_KEPT = 10_000;

/** A text in a `name` column as the column's value: below zero and halved, so that it is never taken for a number. */
const nameValue = (index: number): number => -index - 0.5;

export interface OddText {
  readonly sample: number;
  readonly text: string;
}

/** A name of a head as it is compared: a logger may leave its unit out, or write it in capitals. */
const headOf = (text: string): string => text.replace(/(?!^)\s*[([].*$/, '').toLowerCase();

export class Rows {
  readonly columns: Columns;
  /** Line of the text that the next row stands in. */
  line: number;
  /** Trouble codes: the text where it differs from the one above it. */
  readonly codes: { readonly column: number; readonly sample: number; readonly text: string }[] = [];
  readonly notes: Note[] = [];
  /** Samples that were read with their quotes as plain signs. */
  readonly literal = new Set<number>();
  /** Per `text` column: how many cells were no number. */
  readonly texts: number[];
  /** `value` column of the long form: texts to be judged once the channel is known. */
  readonly oddTexts: OddText[] = [];
  readonly placeholders = { count: 0, sample: 0, column: 0, texts: new Set<string>(), columns: new Set<number>() };
  /** By column: cells with commas where commas part the cells, to be judged once the column is read. */
  readonly commas = new Map<number, CommaCells>();
  /** Rows that end with a delimiter. */
  trailingDelimiters = 0;
  /** While the rest of a row that was cut off is read: too few cells are no news then. */
  cutting = false;
  private oddSample = -1;
  /**
   * Where a header with its columns in another order stands, how many rows behind it are left out, for their columns mean something else,
   * and which samples stand behind such.
   */
  turned: { readonly line: number; rows: number; readonly before: number[] } | undefined;
  /** Behind such a header, up to one in the first order. */
  private isTurned = false;
  /** The words of the row at hand that the head holds too, by column, and the last row in which others stood. */
  private words: string[] = [];
  private wordsLine = -1;
  private mixedLine = -1;
  /** By column the last word that the head does not hold: most come again. */
  private readonly others: string[] = [];
  private readonly names: Map<string, number>[];
  /** By column the header's names and units, as they are compared. */
  private readonly heads: readonly string[];
  private readonly headings: ReadonlySet<string>;
  private readonly units: readonly (string | undefined)[];
  private readonly lastCode: string[];

  constructor(
    width: number,
    readonly delimiter: number,
    readonly comma: number,
    readonly kinds: readonly CellKind[],
    private readonly timeColumn: number,
    private readonly readTime: (bytes: Uint8Array, start: number, end: number) => number,
    private readonly keepOddTextsOf: number,
    readonly text: TextReader,
    readonly book: ProblemBook,
    readonly textBook: ProblemBook,
    readonly writtenWidth: number,
    expectedRows: number,
    firstLine: number,
    keeping?: (column: number) => Keeping,
    header: readonly string[] = [],
    unitsRow: readonly string[] = [],
    /** The decimal sign beside the point in cells that may hold a delimiter, in quotes. */
    private readonly quotedComma = comma,
  ) {
    this.columns = new Columns(width, expectedRows, keeping);
    this.line = firstLine;
    this.texts = new Array<number>(width).fill(0);
    this.heads = header.map(headOf);
    this.headings = new Set(this.heads);
    this.units = header.map((text, column) => unitsRow[column] ?? /[([](.*)[)\]]/.exec(text)?.[1]);
    this.names = Array.from({ length: width }, () => new Map<string, number>());
    this.lastCode = new Array<string>(width).fill('');
  }

  /** A copy that goes its own way; packed columns are shared. */
  fork(): Rows {
    const { codes, notes, literal, texts, oddTexts, placeholders, commas, names, lastCode, turned } = this;
    const own = structuredClone({ codes, notes, literal, texts, oddTexts, placeholders, commas, names, lastCode, turned });
    return Object.assign(Object.create(Rows.prototype) as Rows, this, own, {
      columns: this.columns.fork(),
      book: this.book.fork(),
      textBook: this.textBook.fork(),
    });
  }

  /** The value of a cell that is no small plain number; NaN where it has none. Says so where that is a trouble. */
  cell(bytes: Uint8Array, start: number, end: number, column: number): number {
    while (end > start && (bytes[end - 1] === 32 || bytes[end - 1] === 9)) end--;
    if (end === start) return NaN;
    this.oddSample = this.columns.samples;
    const kind = this.kinds[column];
    if (kind === 'name') return this.name(this.text.text(bytes, start, end), column);
    const number = readNumber(bytes, start, end, this.quotedComma);
    if (number !== undefined && Number.isFinite(number)) return number;
    if (kind === 'time') {
      const time = this.readTime(bytes, start, end);
      if (time === time) return time;
    }
    return this.word(this.text.text(bytes, start, Math.min(end, start + 200)), number, column, kind);
  }

  private word(text: string, number: number | undefined, column: number, kind: CellKind): number {
    const sample = this.columns.samples;
    const word = text.toLowerCase();
    const isPlaceholder = PLACEHOLDERS.has(word);
    const isOfHead = !isPlaceholder && this.isOfHead(text, column);
    if (isOfHead) {
      if (this.wordsLine !== this.line) [this.words, this.wordsLine] = [[], this.line];
      this.words[column] = text;
    } else if (!isPlaceholder) this.mixedLine = this.line;
    if (this.isTurned || (isOfHead && this.isHead(text, column))) return NaN;
    if (isPlaceholder) {
      const seen = this.placeholders;
      if (seen.count++ === 0) {
        seen.sample = sample;
        seen.column = column;
      }
      seen.columns.add(column);
      if (seen.texts.size < 5) seen.texts.add(text);
      return NaN;
    }
    // Where commas part the cells, one within a cell is judged by its whole column.
    const parted = (this.delimiter === 44 && text.includes(',')) || kind === 'code' ? undefined : partedNumber(text);
    if (parted !== undefined) return parted;
    if (column === this.keepOddTextsOf) {
      if (this.oddTexts.length < ODD_TEXTS_KEPT) this.oddTexts.push({ sample, text });
      return NaN;
    }
    if (kind === 'code') {
      if (word.match(TROUBLE_CODE)) {
        if (text !== this.lastCode[column] && this.codes.length < CODES_KEPT) this.codes.push({ column, sample, text });
        this.lastCode[column] = text;
        return NaN;
      }
    } else if (kind === 'gear') {
      const gear = gearOf(word);
      if (gear !== undefined) return gear;
    } else if (kind === 'flag' || kind === 'text') {
      const flag = flagOf(word);
      if (flag !== undefined) return flag;
    }
    if (this.delimiter === 44 && text.includes(',') && noteComma(this.commas, text, column, sample)) return NaN;
    if (isOfHead) return NaN;
    this.noNumber(text, column, number !== undefined || /^[+-]?inf(inity)?$/.test(word) ? 'not-finite' : 'text');
    return NaN;
  }

  private noNumber(text: string, column: number, how: 'not-finite' | 'text'): void {
    const isText = this.kinds[column] === 'text';
    if (isText) this.texts[column]++;
    (isText ? this.textBook : this.book).note('value-not-a-number', how, column, this.columns.samples, () => ({ text }));
  }

  private name(text: string, column: number): number {
    const names = this.names[column];
    let index = names.get(text);
    if (index === undefined) names.set(text, (index = names.size));
    return nameValue(index);
  }

  /** The text behind a value of a `name` column. */
  nameTexts(column: number): (value: number) => string {
    const texts = [...this.names[column].keys()];
    return (value) => (value < 0 && value % 1 !== 0 ? (texts[-value - 0.5] ?? String(value)) : String(value));
  }

  /** Takes the note line at `from`; index of the line behind it. */
  note(bytes: Uint8Array, from: number, to: number): number {
    const behind = nextLine(bytes, from, to);
    if (this.notes.length < 1000) this.notes.push(readNote(this.text.text(bytes, from, behind), this.line));
    this.line++;
    return behind;
  }

  /**
   * Ends the row whose values stand in the columns' block: `cells` cells, the last one blank or not, `extra` where a cell behind the last
   * column holds something. `lines` is how many lines of the text the row took.
   */
  end(cells: number, extra: boolean, lastBlank: boolean, offset: number, lines: number): void {
    const { columns } = this;
    const { width, block } = columns;
    const at = columns.rowAt;
    const line = this.line;
    this.line += lines;
    if (cells === 1 && lastBlank) return;
    if (this.wordsLine === line) this.turnBy(line);
    if (this.isTurned) {
      this.turned!.rows++;
      return;
    }
    if (this.wordsLine === line) {
      if (this.mixedLine !== line && this.isHeadAgain()) return;
      // A name among readings heads nothing.
      this.words.forEach((text, column) => {
        this.noNumber(text, column, 'text');
      });
    }
    if (cells < width) {
      for (let column = cells; column < width; column++) block[at + column] = NaN;
    }
    const time = block[at + Math.max(0, this.timeColumn)];
    if (time !== time && !extra && this.oddSample !== columns.samples && this.isBlank(at)) return;
    if (cells < width) {
      if (!this.cutting) this.book.note('row-ragged', 'too-few', -1, columns.samples, () => ({ cells, expected: width }));
    } else if (extra && cells > this.writtenWidth) {
      this.book.note('row-ragged', 'too-many', -1, columns.samples, () => ({ cells: lastBlank ? cells - 1 : cells, expected: width }));
    } else if (cells > this.writtenWidth) this.trailingDelimiters++;
    columns.push(offset, line);
  }

  /** Takes rows of plain numbers, a line each, that were read into columns: see `Columns.pushRows`. */
  plainRows(count: number, starts: Uint32Array, base: number, values: Float64Array, stride: number, blanks: Uint32Array): void {
    if (this.isTurned) {
      this.line += count;
      this.turned!.rows += count;
      return;
    }
    this.columns.pushRows(count, this.line, starts, base, values, stride, blanks);
    this.line += count;
  }

  /** Whether the words of a row are a header's, and in which order. */
  private turnBy(line: number): void {
    const { heads, headings, words, columns } = this,
      named = words.map(headOf),
      known = named.filter((name) => headings.has(name)).length;
    if (known < LEAST_NAMES || 2 * known < heads.length) return;
    this.isTurned = named.some((name, column) => name !== heads[column] && headings.has(name));
    if (this.isTurned) (this.turned ??= { line, rows: -1, before: [] }).before.push(columns.samples);
  }

  /** Whether a cell holds a name of the head, or the unit of its column. */
  private isOfHead(text: string, column: number): boolean {
    if (text === this.others[column]) return false;
    const isIt = this.isHead(text, column) || this.headings.has(headOf(text));
    if (!isIt) this.others[column] = text;
    return isIt;
  }

  /** Whether a cell says what the head says above it, in its name or its unit. */
  private isHead(text: string, column: number): boolean {
    const unit = this.units[column];
    return headOf(text) === this.heads[column] || (unit !== undefined && text.replace(/^[([]|[)\]]$/g, '') === unit);
  }

  /** A logger that was started anew writes its head again: no reading, and no fault of one. */
  private isHeadAgain(): boolean {
    const { heads, words } = this;
    let again = 0;
    return words.every((text, column) => this.isHead(text, column) && ++again) && again >= LEAST_NAMES && 2 * again >= heads.length;
  }

  private isBlank(at: number): boolean {
    const { block, width } = this.columns;
    for (let column = 0; column < width; column++) if (block[at + column] === block[at + column]) return false;
    return true;
  }

  /** Takes a record that csv-parse read. */
  record(record: QuotedRecord, base: number, lines: number): void {
    const { columns } = this;
    const { width, block } = columns;
    const at = columns.rowAt;
    const { texts } = record;
    let extra = false;
    for (let column = 0; column < texts.length; column++) {
      const text = texts[column];
      if (column >= width) {
        extra ||= text !== '';
        continue;
      }
      const bytes = new Uint8Array(text.length);
      for (let index = 0; index < text.length; index++) bytes[index] = text.charCodeAt(index);
      block[at + column] = this.cell(bytes, leadingBlanks(bytes), bytes.length, column);
    }
    this.end(texts.length, extra, texts[texts.length - 1] === '', base + record.start, lines);
  }
}

const leadingBlanks = (bytes: Uint8Array): number => {
  let at = 0;
  while (at < bytes.length && (bytes[at] === 32 || bytes[at] === 9)) at++;
  return at;
};

/** A `#` line as a note; `# key: value` has its parts. */
export const readNote = (lineText: string, line: number): Note => {
  const character = /^\s*#?\s*/.exec(lineText)?.[0].length ?? 0;
  const text = lineText.slice(character).trimEnd();
  const match = /^([^:]{1,60}):\s*(.*)$/s.exec(text);
  return match ? { line, text, character, key: match[1].trim().toLowerCase(), value: match[2].trim() } : { line, text, character };
};
