// Two sessions on one clock as the text of one: a row for each moment of either, each channel at its own rate and in its own unit, blank
// where it has no new sample.

import { QUANTITIES } from '../../quantities/quantity.js';
import { UNITS } from '../../quantities/units.js';
import type { Channel, Session } from './session.js';

export interface JoinedLog {
  readonly session: Session;
  /** How its file is called in notes. */
  readonly name: string;
  /** Its clock on the common one, seconds. */
  readonly timeAt: (ownS: number) => number;
}

export interface JoinedText {
  /** The text in pieces. */
  readonly text: Iterable<string>;
  readonly rows: number;
  readonly durationS: number;
  /** Headers of the second log whose quantity the first has too: kept under another name, so that the first's stands. */
  readonly doubled: readonly string[];
}

/** Moments nearer than this are one row, seconds: half of the last digit written. */
const SAME_MOMENT_S = 0.00005;
const TIME_DIGITS = 4;
const SECOND = 'second logger: ';
/** Notes that are true of the rows of one file alone. */
const OF_ITS_FILE = /^(?:rate|sample rate|time|units)$/;

/** `notes`: how it was made, a line each without the `#`. The time column begins at 0. */
export function joinedText(first: JoinedLog, second: JoinedLog, notes: readonly string[]): JoinedText {
  const logs = [first, second];
  const times = logs.map(({ session, timeAt }) => Float64Array.from(session.timeS, timeAt));
  const startS = Math.min(...times.flatMap((each) => (each.length > 0 ? [each[0]] : [])));
  const quantities = new Set(
    first.session.channels.flatMap(({ quantity, filled }) => (quantity !== undefined && filled > 0 ? [quantity] : [])),
  );
  const taken = new Set(first.session.channels.map(({ header }) => header.toLowerCase()));
  const isDoubled = ({ quantity, header }: Channel): boolean =>
    (quantity !== undefined && quantities.has(quantity)) || taken.has(header.toLowerCase());
  const headers = [
    ...first.session.channels.map(headerOf),
    ...second.session.channels.map((channel) => (isDoubled(channel) ? `${SECOND}${headerOf(channel)}` : headerOf(channel))),
  ];
  const cells = logs.map(({ session }) => session.channels.map((channel) => cellOf(session, channel)));
  const blanks = logs.map(({ session }) => session.channels.map(() => ''));
  const rows = rowsOf(times[0], times[1]);
  const header = ['Time (s)', ...headers].map(field).join(',');
  function* text(): Iterable<string> {
    for (const note of [...notes, ...keptNotes(first, second)]) yield `# ${note.replace(/\s*[\r\n]+\s*/g, ' ')}\n`;
    yield `${header}\n`;
    for (const [atS, ...samples] of rows) {
      const values = samples.flatMap((sample, log) => (sample < 0 ? blanks[log] : cells[log].map((cell) => field(cell(sample)))));
      yield `${(atS - startS).toFixed(TIME_DIGITS)},${values.join(',')}\n`;
    }
  }
  return {
    text: { [Symbol.iterator]: () => text()[Symbol.iterator]() },
    rows: rows.length,
    durationS: rows.length > 0 ? rows[rows.length - 1][0] - startS : 0,
    doubled: second.session.channels.filter(isDoubled).map(({ header }) => header),
  };
}

/** Each moment with the sample of either log, −1 for none. */
function rowsOf(a: Float64Array, b: Float64Array): (readonly [atS: number, first: number, second: number])[] {
  const rows: (readonly [number, number, number])[] = [];
  for (let [i, j] = [0, 0]; i < a.length || j < b.length;) {
    const [atA, atB] = [i < a.length ? a[i] : Infinity, j < b.length ? b[j] : Infinity];
    if (Math.abs(atA - atB) < SAME_MOMENT_S) rows.push([atA, i++, j++]);
    else if (atA < atB) rows.push([atA, i++, -1]);
    else rows.push([atB, -1, j++]);
  }
  return rows;
}

/** Whether the text of its cells can stand in the new file as it is. */
const isAsWritten = (session: Session, { unitFrom }: Channel): boolean => session.form === 'wide' && unitFrom !== 'standard';

function headerOf(channel: Channel): string {
  const { header, name, unit, unitFrom, quantity } = channel;
  switch (unitFrom) {
    case 'units-row':
      return unit?.symbol ? `${name} (${unit.symbol})` : header;
    case 'column':
    case 'standard': {
      const symbol = quantity === undefined ? unit?.symbol : UNITS[QUANTITIES[quantity].unit].symbol;
      return symbol ? `${name} (${symbol})` : name;
    }
    default:
      return header;
  }
}

function cellOf(session: Session, channel: Channel): (sample: number) => string {
  if (isAsWritten(session, channel)) {
    const { places, decimalComma } = session;
    return (sample) => {
      const text = places.cellText(channel.index, sample);
      return decimalComma && /^[+-]?\d*,\d+(?:e[+-]?\d+)?$/i.test(text) ? text.replace(',', '.') : text;
    };
  }
  return (sample) => {
    const value = channel.values[sample];
    return Number.isNaN(value) ? '' : String(Number(value.toPrecision(8)));
  };
}

/** RFC 4180: quoted where it must be. */
const field = (text: string): string => (/[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);

/** What the files say of themselves goes along; the first's word stands where both say something else of the same. */
function keptNotes(first: JoinedLog, second: JoinedLog): string[] {
  const said = new Map<string, string>();
  const lines: string[] = [];
  for (const { session, name } of [first, second]) {
    for (const { key, value, text } of session.notes) {
      const plain = text.replace(/^\s*#\s*/, '');
      if (key !== undefined && !OF_ITS_FILE.test(key) && !said.has(key)) {
        said.set(key, value ?? '');
        lines.push(plain);
      } else if (key === undefined || said.get(key) !== value) lines.push(`in ${name}, ${plain}`);
    }
  }
  return lines;
}
