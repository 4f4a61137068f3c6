// Reads a session log: bytes in, typed columns over one clock out, with every trouble at its place. Never throws on what a file holds.

import type { LoggedCode, Session, SessionPlaces } from './session.js';
import type { ByteSource } from '../source.js';
import { range, type Range } from '../range.js';
import { limitOf } from '../limits.js';
import { unpacked, type Unpackable } from '../csv/packed.js';
import type { Keeping } from '../csv/columns.js';
import { readRows, type ReadRowsOptions, type RowsSoFar } from '../csv/readRows.js';
import { TROUBLE_CODE, type CellKind, type Rows } from '../csv/rows.js';
import { isNumberText, readLayout, type Layout } from './header.js';
import { isUnreadShare, planColumns, type ColumnPlan } from './describe.js';
import { makeChannels, sayUnits } from './convertColumns.js';
import { ProblemBook } from '../problemBook.js';
import { widePlaces } from './places.js';
import { countedTime, layTime, readRate, type LaidTime } from './time.js';
import { chooseClock, clockSeconds, type Clock } from './clock.js';
import { withThousands } from './partedColumns.js';
import { rowsFor } from './rowsFor.js';
import { Shelf } from '../shelf.js';
import { sayHeader, sayLines, sayTime } from './saying.js';
import { finishSession, metadataOf, type ReadOptions } from './assemble.js';
import { isLongForm, readLong } from './longForm.js';

export type { ReadOptions };

/** `headBytes`: from how many bytes the layout is told. */
export interface ReadWay extends ReadRowsOptions {
  readonly headBytes?: number;
}

const WAY: ReadWay = {
  chunkBytes: 1 << 18,
  everythingQuoted: false,
  kernelFromBytes: 1 << 16,
  packFromBytes: 128 << 20,
  leaveFromBytes: 16 << 20,
};

/** Rows a second where neither a clock nor a note says it. Common practice, no source. */
export const ASSUMED_RATE_HZ = 10;

/**
 * Reads a session from bytes, chunk by chunk. Values come in each quantity's canonical unit, correctly rounded as `Number()` would; what is
 * wrong or had to be assumed stands in `problems`. An empty or binary file gives a session without samples.
 */
export const readSession = (source: ByteSource, options: ReadOptions = {}): Session => readSessionBy(source, options, WAY);

/**
 * Reading that goes on `from` where an earlier one of the same source stood, with the same options, and `keep`s where it stands itself,
 * where that can be.
 */
export interface Going {
  readonly from?: RowsSoFar;
  readonly keep: (soFar: RowsSoFar) => void;
}

/** `readSession` by a stated way: chunk size, and whether csv-parse reads everything. For comparing the ways, and for going on. */
export const readSessionBy = (source: ByteSource, options: ReadOptions, way: ReadWay = WAY, going?: Going): Session => {
  const layout = readLayout(source, way.headBytes);
  if (layout.trouble !== 'none') return emptySession(layout);
  if (isLongForm(layout)) return readLong(layout, options, way);
  // The head tells the layout: it is the same only where there was more than that. Text of two bytes a character was made anew.
  return readWide(layout, options, way, layout.source === source && source.size > layout.headBytes ? going : undefined);
};

const first = (layout: Layout): Range => (layout.header[0] ? layout.header[0].range : range(0, 0, 0, 0));

const emptySession = (layout: Layout): Session => {
  const book = new ProblemBook();
  // Behind notes alone there may be no line.
  const line = layout.trouble === 'empty' ? 0 : layout.dataLine;
  book.place('channel-missing', layout.trouble, range(line, 0, line, 0), {});
  return finishSession(layout, {
    book,
    channels: [],
    time: countedTime(0, 0),
    timeKind: 'assumed-rate',
    timeColumn: undefined,
    notes: layout.notes,
    codes: [],
    form: 'wide',
    places: NO_PLACES,
  });
};

/** A wide log's first columns tell. */
const MOST_COMPARED = 50;

/** Whether a row's cells hold what those of the row before hold. */
const saysTheSame = (places: SessionPlaces, channels: number, sample: number): boolean => {
  for (let channel = 0; channel < Math.min(channels, MOST_COMPARED); channel++)
    if (places.cellText(channel, sample) !== places.cellText(channel, sample - 1)) return false;
  return channels > 0;
};

const NO_PLACES: SessionPlaces = {
  cellRange: () => range(0, 0, 0, 0),
  spanRange: () => range(0, 0, 0, 0),
  cellText: () => '',
  lineOf: () => 0,
  sampleAt: () => undefined,
  channelAt: () => undefined,
};

const kindOf = (plan: ColumnPlan): CellKind => {
  switch (plan.quantity) {
    case undefined:
      return 'text';
    case 'fuel-cut':
      return 'flag';
    case 'gear':
      return 'gear';
    case 'trouble-code':
      return 'code';
    default:
      return 'number';
  }
};

const readWide = (layout: Layout, options: ReadOptions, way: ReadRowsOptions, going?: Going): Session => {
  const plans = planColumns(layout, options.vehicle);
  const clock = chooseClock(plans, layout);
  const kinds = plans.map((plan) => (plan.column === clock?.column ? 'time' : kindOf(plan)));
  const rows =
      going?.from?.rows ?? rowsFor(layout, kinds, clock, -1, new ProblemBook(), new ProblemBook(), keepingOf(layout, plans, options, way)),
    { book, textBook } = rows;
  const read = readRows(layout.source, layout.dataOffset, rows, way, going?.from, going?.keep);
  const { columns: kept, offsets } = rows.columns.finish();
  const { filled, samples } = rows.columns;
  const again = readAgain(layout, kinds, clock, way, samples, filled),
    columns = kept.map((column, at) => column ?? again(at));
  const channelPlans = plans.filter((plan) => plan !== clock?.plan);
  const places = widePlaces({
    rows: layout.rows,
    offsets,
    lines: { samples, changeSamples: rows.columns.changeSamples, changeShifts: rows.columns.changeShifts },
    literal: rows.literal,
    columnOf: channelPlans.map((plan) => plan.column),
    timeColumn: clock?.column ?? 0,
  });
  const thousands = settleThousands(channelPlans, columns, layout, places) ?? settleCommas(rows, columns, layout, book);
  const notes = [...layout.notes, ...rows.notes];
  const metadata = metadataOf(notes);

  const hasClock = clock !== undefined && filled[clock.column] > 0;
  const clockValues = hasClock ? unpacked(columns[clock.column]) : undefined;
  const clockRead = clock && clockValues && clockSeconds(clockValues, clock);
  const stated = readRate(metadata.get('rate') ?? metadata.get('sample rate') ?? '');
  const time =
    clock && clockValues
      ? layTime(clockValues, clock.form === 'clock', limitOf('timeGapS', options.vehicle?.limits ?? {}).value)
      : countedTime(samples, 1 / (stated ?? ASSUMED_RATE_HZ));

  const shelf = new Shelf();
  const channels = makeChannels(
    channelPlans,
    channelPlans.map((plan) => columns[plan.column]),
    channelPlans.map((plan) => filled[plan.column]),
    metadata,
    book,
    shelf,
  );

  sayHeader(plans, layout, clock, book);
  sayUnits(clockRead ? [clockRead.plan, ...channelPlans] : channelPlans, channels, book);
  sayLines(read, rows, layout, book, places.rowRange);
  if (samples === 0) book.place('channel-missing', 'no-rows', layout.headerRange, {});
  else if (!hasClock)
    book.place(
      'channel-missing',
      'no-time',
      clock?.plan.headerRange ?? first(layout),
      {
        rateHz: stated ?? ASSUMED_RATE_HZ,
        stated: stated !== undefined,
        unreadable: clock !== undefined,
      },
      { channel: clock?.plan.header },
    );
  else
    sayTime(
      time,
      clock.plan.header,
      book,
      (sample) => places.columnRange(clock.column, sample),
      (sample) => saysTheSame(places, channels.length, sample),
      (sample) => rows.turned?.before.includes(sample) === true,
    );
  sayCells(rows, plans, book, textBook, time, places);
  if (thousands)
    book.place(
      'value-not-a-number',
      'thousands',
      places.columnRange(thousands.column, thousands.sample),
      { text: thousands.text, value: thousands.value, channels: thousands.columns.map((column) => plans[column].name) },
      { count: thousands.count, channel: plans[thousands.column].header },
    );

  return finishSession(layout, {
    book,
    channels,
    shelf,
    time,
    timeKind: hasClock ? 'column' : 'assumed-rate',
    notes,
    form: 'wide',
    places,
    timeColumn: clock && clockRead ? { header: clock.plan.header, unit: clockRead.plan.unit, startIso: clockRead.startIso } : undefined,
    codes: codesOfColumns(rows, places),
  });
};

/**
 * Of a very long session the clock is kept whole, what is known or may be a fuel trim packed, and what else nobody knows not at all: rules
 * look at it only where it has blanks. Of a long one that is not, where nobody else looks.
 */
const keepingOf =
  (
    { firstRows }: Layout,
    plans: readonly ColumnPlan[],
    { knownAlone }: ReadOptions,
    { packFromBytes = Infinity, leaveFromBytes = Infinity }: ReadRowsOptions,
  ) =>
  (kind: CellKind, allBytes: number, column: number): Keeping =>
    kind === 'time'
      ? 'whole'
      : allBytes >= packFromBytes
        ? kind === 'text' && !isUnreadShare(plans[column])
          ? 'not'
          : 'packed'
        : kind === 'text' &&
            !isUnreadShare(plans[column]) &&
            knownAlone &&
            allBytes >= leaveFromBytes &&
            firstRows.every((row) => isNumberText(row[column] ?? ''))
          ? 'not'
          : 'whole';

/**
 * The columns that were not kept: whoever asks for one with blanks, as rules do, has those with blanks read again, and kept packed; whoever
 * asks for another has all that are left.
 */
const readAgain = (
  layout: Layout,
  kinds: readonly CellKind[],
  clock: Clock | undefined,
  way: ReadRowsOptions,
  samples: number,
  filled: readonly number[],
): ((column: number) => Unpackable) => {
  const read = new Map<number, Unpackable>();
  const readWith = (asked: number): void => {
    const isWanted = (column: number): boolean => !read.has(column) && (filled[asked] === samples || filled[column] < samples);
    const rows = rowsFor(layout, kinds, clock, -1, new ProblemBook(), new ProblemBook(), (kind, _bytes, column) =>
      kind === 'text' && isWanted(column) ? 'packed' : 'not',
    );
    readRows(layout.source, layout.dataOffset, rows, way);
    rows.columns.finish().columns.forEach((values, column) => {
      if (values) read.set(column, values as Unpackable);
    });
  };
  return (column) => ({
    bytes: 8 * samples,
    values: (convert) => {
      if (!read.has(column)) readWith(column);
      const values = read.get(column)!.values(convert);
      if (values.length === samples) return values;
      // The file is another by now.
      const fitted = new Float64Array(samples).fill(NaN);
      fitted.set(values.subarray(0, samples));
      return fitted;
    },
  });
};

/**
 * Numbers with thousands signs become values where nothing speaks against it: every cell with a comma in the column fits, and the file
 * writes decimals with a point. Elsewhere such a cell could be a decimal comma too, and is no number. Gives what is to be said of those
 * read.
 */
const settleCommas = (
  rows: Rows,
  readColumns: (Float64Array | Unpackable)[],
  layout: Layout,
  book: ProblemBook,
): { column: number; sample: number; text: string; value: number; count: number; columns: number[] } | undefined => {
  if (rows.commas.size === 0) return undefined;
  const { filled, samples } = rows.columns;
  const points = layout.firstRows.some((row) => row.some((cell) => /^[+-]?[\d,]*\.\d+$/.test(cell)));
  const columns: number[] = [];
  let count = 0;
  for (const [column, cells] of rows.commas) {
    const read = cells.grouped && points;
    if (read) columns.push(column);
    const values = (readColumns[column] = unpacked(readColumns[column]));
    cells.samples.forEach((sample, index) => {
      if (sample >= samples) return;
      if (!read) {
        book.note('value-not-a-number', 'comma', column, sample, () => ({ text: cells.texts[Math.min(index, cells.texts.length - 1)] }));
        return;
      }
      values[sample] = cells.values[index];
      filled[column]++;
      count++;
    });
  }
  const first = rows.commas.get(columns[0]);
  return first && count > 0
    ? { column: columns[0], sample: first.samples[0], text: first.texts[0], value: first.values[0], count, columns }
    : undefined;
};

/** The same where the sign could be a decimal one by itself, told by the whole column. */
const settleThousands = (
  plans: readonly ColumnPlan[],
  readColumns: (Float64Array | Unpackable)[],
  layout: Layout,
  places: SessionPlaces,
): ReturnType<typeof settleCommas> => {
  const found = plans.flatMap(({ quantity, column }, channel) => {
    const text = (sample: number): string => places.cellText(channel, sample),
      elsewhere = (): string[] => layout.firstRows.flatMap((row) => row.filter((_cell, at) => at !== column));
    const made = withThousands(quantity, () => unpacked(readColumns[column]), text, elsewhere);
    if (!made) return [];
    readColumns[column] = made.values;
    return [{ column, sample: made.sample, text: text(made.sample), value: made.values[made.sample], count: made.count }];
  });
  return found.length > 0
    ? { ...found[0], count: found.reduce((sum, { count }) => sum + count, 0), columns: found.map(({ column }) => column) }
    : undefined;
};

/** Says what the cells held: runs of texts and short rows, placeholders once. */
const sayCells = (
  rows: Rows,
  plans: readonly ColumnPlan[],
  book: ProblemBook,
  textBook: ProblemBook,
  time: LaidTime,
  places: ReturnType<typeof widePlaces>,
): void => {
  const { filled, samples } = rows.columns;
  // A column of which nothing is known and that holds mostly words is meant to: no trouble.
  const mixed = textBook.runs().filter((run) => filled[run.column] > rows.texts[run.column]);
  for (const run of [...book.runs(), ...mixed]) {
    if (run.fromSample >= samples) continue;
    const toSample = Math.min(run.toSample, samples - 1);
    const span =
      run.column < 0
        ? { start: places.rowRange(run.fromSample).start, end: places.rowRange(toSample).end }
        : { start: places.columnRange(run.column, run.fromSample).start, end: places.columnRange(run.column, toSample).end };
    const plan = plans[run.column];
    book.place(
      run.code,
      run.kind,
      span,
      { ...run.facts, ...(plan ? { known: plan.quantity !== undefined } : {}) },
      {
        count: run.count,
        channel: plan?.header,
        timeS: [time.timeS[run.fromSample], time.timeS[toSample]],
      },
    );
  }
  const seen = rows.placeholders;
  if (seen.count > 0 && seen.sample < samples) {
    book.place(
      'value-not-a-number',
      'placeholder',
      places.columnRange(seen.column, seen.sample),
      { texts: [...seen.texts], channels: [...seen.columns].map((column) => plans[column].name) },
      { count: seen.count, channel: plans[seen.column].header },
    );
  }
};

/** Codes of the code columns, one each, where a row shows one that the text above it did not. */
const codesOfColumns = (rows: Rows, places: ReturnType<typeof widePlaces>): LoggedCode[] => {
  const before = new Map<number, ReadonlySet<string>>();
  return rows.codes
    .filter((code) => code.sample < rows.columns.samples)
    .flatMap(({ column, sample, text }) => {
      const shown = before.get(column) ?? new Set<string>();
      const found = [...text.matchAll(TROUBLE_CODE)];
      before.set(column, new Set(found.map((match) => match[0].toUpperCase())));
      const cell = places.columnRange(column, sample);
      return found
        .filter((match) => !shown.has(match[0].toUpperCase()))
        .map((match) => {
          const quotes = cell.end.line === cell.start.line && cell.end.character - cell.start.character > text.length ? 1 : 0;
          const from = cell.start.character + quotes + match.index;
          return {
            text: match[0].toUpperCase(),
            sample,
            line: cell.start.line,
            range: range(cell.start.line, from, cell.start.line, from + match[0].length),
          };
        });
    });
};
