// The text of a table cut into rows and fields, each with its place: comments, delimiters, quotes and blanks, no meaning yet.

/**
 * One field of a row. `start` and `end` are those of its text, blanks and quotes left out; `from` and `to` take in all between the
 * delimiters.
 */
export interface Field {
  readonly text: string;
  readonly start: number;
  readonly end: number;
  readonly from: number;
  readonly to: number;
}
export interface GridRow {
  readonly line: number;
  readonly fields: readonly Field[];
  readonly comment: string | undefined;
  readonly ended: boolean;
  readonly more: boolean;
}
/** A line that is all comment: its text without `#`, and where that begins. */
export interface Comment {
  readonly line: number;
  readonly start: number;
  readonly text: string;
  readonly beforeGrid: boolean;
}
export type Delimiter = ',' | ';' | '\t';
export interface GridText {
  readonly comments: readonly Comment[];
  readonly rows: readonly GridRow[];
  readonly delimiter: Delimiter;
  /** More rows than are read. */
  readonly moreRows: boolean;
}

/** Most rows and most columns that a table has; more is no table of an engine computer, and is said. */
export const MOST_BREAKPOINTS = 512;
const MOST_LINES = 100_000;

const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d{1,4})?$/i;
const NUMBER_COMMA = /^[+-]?(?:\d+,\d+|,\d+)(?:e[+-]?\d{1,4})?$/i;

/**
 * The number that a field's text is, with a point or, as far as it is no delimiter, a comma; NaN for any other text, infinite for 1e999.
 */
export const numberOf = (text: string): number => {
  if (text.length > 400) return NaN;
  if (NUMBER.test(text)) return Number(text);
  return NUMBER_COMMA.test(text) ? Number(text.replace(',', '.')) : NaN;
};

const isBlank = (code: number): boolean => code === 32 || code === 9 || code === 0xa0 || code === 0xfeff;

/** Fields of a line up to `end`, at most `most`. A quote that never closes runs to the end of the line. */
export const splitFields = (line: string, delimiter: Delimiter, end: number, most: number): Field[] => {
  const fields: Field[] = [];
  let from = 0;
  while (fields.length < most) {
    let start = from;
    while (start < end && isBlank(line.charCodeAt(start)) && line[start] !== delimiter) start++;
    let to: number, textEnd: number, text: string;
    if (line[start] === '"' && start < end) {
      let close = start + 1;
      while (close < end && !(line[close] === '"' && line[close + 1] !== '"')) close += line[close] === '"' ? 2 : 1;
      close = Math.min(close, end);
      to = line.indexOf(delimiter, close);
      if (to < 0 || to > end) to = end;
      start = Math.min(start + 1, close);
      textEnd = close;
      while (start < textEnd && isBlank(line.charCodeAt(start))) start++;
      while (textEnd > start && isBlank(line.charCodeAt(textEnd - 1))) textEnd--;
      text = line.slice(start, textEnd);
      if (text.length < 1000) text = text.replaceAll('""', '"');
    } else {
      to = line.indexOf(delimiter, start);
      if (to < 0 || to > end) to = end;
      textEnd = to;
      while (textEnd > start && isBlank(line.charCodeAt(textEnd - 1))) textEnd--;
      // Nothing but blanks: where a number would be put, one blank in.
      if (textEnd === start) start = textEnd = Math.min(from + (to > from && line[from] === ' ' ? 1 : 0), to);
      text = line.slice(start, textEnd);
    }
    fields.push({ text, start, end: textEnd, from, to });
    if (to >= end) break;
    from = to + 1;
  }
  return fields;
};

/** Where the comment behind a row begins: the first `#` outside quotes. */
const commentStart = (line: string): number => {
  let at = line.indexOf('#');
  if (at < 0 || !line.includes('"')) return at < 0 ? line.length : at;
  let quoted = false;
  for (at = 0; at < line.length; at++) {
    if (line[at] === '"') quoted = !quoted;
    else if (line[at] === '#' && !quoted) return at;
  }
  return line.length;
};

interface RawLine {
  readonly line: number;
  readonly text: string;
  readonly end: number;
  readonly ended: boolean;
}

const DELIMITERS: readonly Delimiter[] = [';', '\t', ','];

/** The delimiter that makes the most numbers of the first rows. */
const delimiterOf = (lines: readonly RawLine[]): Delimiter => {
  let best: Delimiter = ',';
  let most = -1;
  for (const delimiter of DELIMITERS) {
    let numbers = 0;
    for (const { text, end } of lines.slice(0, 24)) {
      const fields = splitFields(text, delimiter, end, MOST_BREAKPOINTS);
      if (fields.length > 1) for (const field of fields) if (!Number.isNaN(numberOf(field.text))) numbers++;
    }
    if (numbers > most && (numbers > 0 || delimiter === ',')) {
      best = delimiter;
      most = numbers;
    }
  }
  return best;
};

/** Lines as LSP counts them (CR LF, LF or CR end one), until `each` returns false. */
const eachLine = (text: string, each: (line: string, index: number, ended: boolean) => boolean): void => {
  const ending = /\r\n|\r|\n/g;
  let from = 0;
  for (let index = 0; index < MOST_LINES; index++) {
    const match = ending.exec(text);
    if (!each(text.slice(from, match ? match.index : text.length), index, match !== null) || !match) return;
    from = ending.lastIndex;
  }
};

/** Cuts a table's text. Never throws; blank lines and lines of nothing but delimiters are passed over. */
export const readGrid = (text: string): GridText => {
  const comments: Comment[] = [];
  const lines: RawLine[] = [];
  let moreRows = false;
  eachLine(text, (line, index, ended) => {
    let start = 0;
    while (start < line.length && isBlank(line.charCodeAt(start))) start++;
    if (start === line.length) return true;
    if (line[start] === '#' || line.startsWith('"#', start)) {
      // A spreadsheet pads every line with delimiters and may put quotes around a comment.
      start += line[start] === '#' ? 1 : 2;
      const body = line.slice(start, start + 2000).replace(/[\s,;"]+$/, '');
      comments.push({ line: index, start, text: body, beforeGrid: lines.length === 0 });
      return comments.length < MOST_LINES;
    }
    const end = commentStart(line);
    if (/^[\s,;"\ufeff]*$/.test(line.slice(0, Math.min(end, 4000))) && end < 4000 && !mayBeHeader(line, end, lines.length)) return true;
    if (lines.length > MOST_BREAKPOINTS) {
      moreRows = true;
      return false;
    }
    lines.push({ line: index, text: line, end, ended });
    return true;
  });
  const delimiter = delimiterOf(lines);
  const rows = lines.map(({ line, text: raw, end, ended }): GridRow => {
    const fields = splitFields(raw, delimiter, end, MOST_BREAKPOINTS + 2);
    const more = fields.length === MOST_BREAKPOINTS + 2 && fields[fields.length - 1].to < end;
    return {
      line,
      fields: more ? fields.slice(0, MOST_BREAKPOINTS + 1) : fields,
      comment: end < raw.length ? raw.slice(end + 1).trim() : undefined,
      ended,
      more,
    };
  });
  return { comments, rows, delimiter, moreRows };
};

/** The head of a single column may be empty: then the header is a delimiter between blanks, the first line of the grid. */
const mayBeHeader = (line: string, end: number, linesBefore: number): boolean => linesBefore === 0 && /[,;\t]/.test(line.slice(0, end));
