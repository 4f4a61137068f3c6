// Reads a session log: bytes in, typed columns over one clock out, with every trouble at its place. Never throws on what a file holds.

import type { Channel, LoggedCode, Note, Session, SessionPlaces } from './session.js';
import type { ByteSource } from './source.js';
import type { Vehicle } from './vehicle.js';
import type { Problem } from './problem.js';
import { range, type Range } from './range.js';
import { limitOf } from './limits.js';
import { UNITS, type Unit } from '../quantities/units.js';
import { readRows, type Read, type ReadRowsOptions } from './csv/readRows.js';
import { Rows, TROUBLE_CODE, type CellKind } from './csv/rows.js';
import { isNumberText, readLayout, type Layout } from './header.js';
import { planColumns, type ColumnPlan } from './describe.js';
import { makeChannels, sayUnits } from './convertColumns.js';
import { timeRank } from './channelNames.js';
import { ProblemBook } from './problemBook.js';
import { widePlaces } from './places.js';
import { countedTime, isoOf, layTime, readClock, readIso, readRate, type LaidTime, type TimeForm } from './time.js';
import { isLongForm, readLong } from './longForm.js';

export interface ReadOptions { readonly vehicle?: Vehicle }

const encoder = new TextEncoder();
const WAY: ReadRowsOptions = { chunkBytes: 1 << 20, everythingQuoted: false };

/** Rows a second where neither a clock nor a note says it. Common practice, no source. */
export const ASSUMED_RATE_HZ = 10;

/**
 * Reads a session from bytes, chunk by chunk. Values come in each quantity's canonical unit, correctly rounded as `Number()` would; what is wrong
 * or had to be assumed stands in `problems`. An empty or binary file gives a session without samples.
 */
export const readSession = (source: ByteSource, options: ReadOptions = {}): Session => readSessionBy(source, options, WAY);

/** `readSession` by a stated way: chunk size, and whether csv-parse reads everything. For comparing the ways. */
export const readSessionBy = (source: ByteSource, options: ReadOptions, way: ReadRowsOptions): Session => {
  const layout = readLayout(source);
  if (layout.trouble !== 'none') return emptySession(layout);
  return isLongForm(layout) ? readLong(layout, options, way) : readWide(layout, options, way);
};

const first = (layout: Layout): Range => (layout.header[0] ? layout.header[0].range : range(0, 0, 0, 0));

const emptySession = (layout: Layout): Session => {
  const book = new ProblemBook();
  book.place('channel-missing', layout.trouble, range(layout.dataLine, 0, layout.dataLine, 0), {});
  return finishSession(layout, { book, channels: [], time: countedTime(0, 0), timeKind: 'assumed-rate', timeColumn: undefined, notes: layout.notes, codes: [], form: 'wide', places: NO_PLACES });
};

const NO_PLACES: SessionPlaces = {
  cellRange: () => range(0, 0, 0, 0), spanRange: () => range(0, 0, 0, 0), cellText: () => '', lineOf: () => 0, sampleAt: () => undefined, channelAt: () => undefined,
};

/** The parts of a session as a reader has them. */
export interface SessionParts {
  readonly book: ProblemBook;
  readonly channels: readonly Channel[];
  readonly time: LaidTime;
  readonly timeKind: Session['time']['kind'];
  readonly timeColumn: { readonly header: string; readonly unit: Unit | undefined; readonly startIso: string | undefined } | undefined;
  readonly notes: readonly Note[];
  readonly codes: readonly LoggedCode[];
  readonly form: Session['form'];
  readonly places: SessionPlaces;
}

export const metadataOf = (notes: readonly Note[]): Map<string, string> => new Map(notes.flatMap((note) => (note.key === undefined ? [] : [[note.key, note.value ?? ''] as const])));

export const finishSession = (layout: Layout, parts: SessionParts): Session => {
  const { time, timeColumn, notes } = parts;
  const problems: Problem[] = [...parts.book.placed].sort((a, b) => a.range.start.line - b.range.start.line || a.range.start.character - b.range.start.character);
  return {
    kind: 'session', samples: time.timeS.length, timeS: time.timeS, recordingStarts: time.recordingStarts,
    time: {
      kind: parts.timeKind, spread: time.spread, medianStepS: time.medianStepS, ...(timeColumn ? { channel: timeColumn.header } : {}),
      ...(timeColumn?.unit ? { unit: timeColumn.unit } : {}), ...(timeColumn?.startIso ? { startIso: timeColumn.startIso } : {}),
    },
    channels: parts.channels, notes, metadata: metadataOf(notes), codes: [...codesOfNotes(notes), ...parts.codes],
    ignored: notes.flatMap((note) => (note.key === 'ignore' ? (note.value ?? '').split(/[\s,;]+/).filter((code) => code !== '') : [])),
    problems, headerRange: layout.headerRange, places: parts.places, form: parts.form, encoding: layout.encoding, delimiter: layout.delimiter, decimalComma: layout.decimalComma,
  };
};

const codesOfNotes = (notes: readonly Note[]): LoggedCode[] => notes.flatMap((note) => {
  if (!/^(?:trouble|fault|diagnostic trouble)[ -]?codes?$|^dtcs?$/.test(note.key ?? '')) return [];
  return [...note.text.matchAll(TROUBLE_CODE)].map((match) => {
    const from = (note.character ?? 0) + match.index;
    return { text: match[0].toUpperCase(), sample: undefined, line: note.line, range: range(note.line, from, note.line, from + match[0].length) };
  });
});

// ---- the clock ----------------------------------------------------------------------------------------------------------------------------------

export interface Clock { readonly column: number; readonly form: TimeForm; readonly plan: ColumnPlan }

/** How the texts of a time column are written; undefined where none of them is a time. */
export const timeFormOf = (texts: readonly string[]): TimeForm | undefined => {
  const forms = texts.filter((text) => text !== '').map((text): TimeForm | undefined => {
    const bytes = encoder.encode(text);
    if (isNumberText(text)) return 'number';
    if (readIso(bytes, 0, bytes.length) === readIso(bytes, 0, bytes.length)) return 'iso';
    return readClock(bytes, 0, bytes.length) === readClock(bytes, 0, bytes.length) ? 'clock' : undefined;
  });
  // A clock may begin as plain seconds (`59.9`, then `1:00.0`).
  return forms.find((form) => form === 'iso') ?? forms.find((form) => form === 'clock') ?? forms.find((form) => form === 'number');
};

/** The column that is the session's clock: the best named one whose first cells are times. */
const chooseClock = (plans: readonly ColumnPlan[], layout: Layout): Clock | undefined => {
  const rank = (plan: ColumnPlan): number => (plan.quantityFrom === 'vehicle' ? -1 : timeRank(plan.name, plan.quantityFrom === 'guess' ? 'guess' : 'name'));
  const candidates = plans.filter((plan) => plan.quantity === 'time').sort((a, b) => rank(a) - rank(b));
  const dated = plans.filter((plan) => /^date$/i.test(plan.name));
  for (const plan of [...candidates, ...dated]) {
    const form = timeFormOf(layout.firstRows.map((row) => row[plan.column] ?? ''));
    if (form !== undefined && (plan.quantity === 'time' || form === 'iso')) return { column: plan.column, form, plan };
  }
  const [only] = candidates;
  return only && layout.firstRows.length === 0 ? { column: only.column, form: 'number', plan: only } : undefined;
};

/** A count of seconds since 1970 is in this range from 2001 to 2128; milliseconds and microseconds are told from it by their size. */
const EPOCH_S = [1e9, 5e9] as const;

const epochUnit = (value: number): Unit | undefined =>
  [UNITS.s, UNITS.ms, UNITS.us].find((unit) => value * (unit.factor ?? 1) >= EPOCH_S[0] && value * (unit.factor ?? 1) <= EPOCH_S[1]);

/** Where whole numbers step by this much and no unit is named, they are milliseconds: a log of a row every ten seconds shows nothing of an engine. */
const MILLISECOND_STEP = 10;

const looksLikeMilliseconds = (values: Float64Array): boolean => {
  const steps: number[] = [];
  for (let sample = 1; sample < Math.min(values.length, 1000); sample++) {
    if (values[sample] % 1 !== 0) return false;
    if (values[sample] > values[sample - 1]) steps.push(values[sample] - values[sample - 1]);
  }
  steps.sort((a, b) => a - b);
  return steps.length >= 3 && steps[steps.length >> 1] >= MILLISECOND_STEP;
};

/** Written clock values as seconds (in place), the plan with the unit they turned out to be in, and the start where they carry a date. */
export const clockSeconds = (values: Float64Array, clock: Clock): { readonly plan: ColumnPlan; readonly startIso: string | undefined } => {
  const start = values.find((value) => value === value) ?? NaN;
  if (clock.form !== 'number') return { plan: { ...clock.plan, unit: UNITS.s, unitFrom: 'header', unitTrouble: 'none' }, startIso: clock.form === 'iso' ? isoOf(start) : undefined };
  const { scale } = clock.plan;
  if (scale) for (let sample = 0; sample < values.length; sample++) values[sample] = values[sample] * scale.factor + scale.offset;
  let { unit } = clock.plan;
  let epoch = false;
  let sizeTold = false;
  if (clock.plan.unitFrom === 'assumed' || clock.plan.unit === undefined) {
    const byEpoch = epochUnit(start);
    epoch = sizeTold = byEpoch !== undefined;
    unit = byEpoch ?? (looksLikeMilliseconds(values) ? UNITS.ms : UNITS.s);
  } else epoch = start * (unit?.factor ?? 1) >= EPOCH_S[0] && start * (unit?.factor ?? 1) <= EPOCH_S[1];
  const factor = unit?.factor ?? 1;
  // Dividing by the whole number keeps 20 ms at exactly what 0.02 reads as.
  const divisor = Math.round(1 / factor);
  if (factor < 1) for (let sample = 0; sample < values.length; sample++) values[sample] /= divisor;
  else if (factor > 1) for (let sample = 0; sample < values.length; sample++) values[sample] *= factor;
  return {
    plan: { ...clock.plan, unit, unitTrouble: sizeTold ? 'none' : clock.plan.unitTrouble },
    startIso: epoch ? isoOf(start * factor) : undefined,
  };
};

/** Says what the clock did: steps back, holes, repeats; `place` gives the clock's cell at a sample. */
export const sayTime = (time: LaidTime, header: string, book: ProblemBook, place: (sample: number) => Range): void => {
  const { timeS } = time;
  const channel = header;
  time.reversals.forEach((event, index) => {
    const last = index === time.reversals.length - 1;
    book.place('time-reversed', 'step-back', place(event.sample), { fromS: event.fromS, toS: event.toS, moreCount: last ? time.reversalCount - time.reversals.length : 0 }, { channel, timeS: [timeS[event.sample], timeS[event.sample]] });
  });
  time.gaps.forEach((event, index) => {
    const last = index === time.gaps.length - 1;
    const span = { start: place(event.sample - 1).start, end: place(event.sample).end };
    book.place('time-gap', 'gap', span, { gapS: event.toS - event.fromS, stepS: time.medianStepS, moreCount: last ? time.gapCount - time.gaps.length : 0 }, { timeS: [event.fromS, event.toS] });
  });
  const { repeats } = time;
  if (repeats.count === 0) return;
  if (time.spread) {
    book.place('time-repeated', 'spread', place(repeats.first), { rows: timeS.length, repeated: repeats.count, stepS: time.medianStepS }, { channel, count: repeats.count, timeS: [0, timeS[timeS.length - 1]] });
    return;
  }
  const told = repeats.runs.reduce((sum, run) => sum + run.to - run.from + 1, 0);
  repeats.runs.forEach((run, index) => {
    const span = { start: place(run.from).start, end: place(run.to).end };
    book.place('time-repeated', 'repeated', span, { moreCount: index === repeats.runs.length - 1 ? repeats.count - told : 0 }, { channel, count: run.to - run.from + 1, timeS: [timeS[run.from], timeS[run.to]] });
  });
};

// ---- one sample a row ---------------------------------------------------------------------------------------------------------------------------

const kindOf = (plan: ColumnPlan): CellKind => {
  switch (plan.quantity) {
    case undefined: return 'text';
    case 'fuel-cut': return 'flag';
    case 'gear': return 'gear';
    case 'trouble-code': return 'code';
    default: return 'number';
  }
};

/** A reader of rows for a layout. */
export const rowsFor = (layout: Layout, kinds: readonly CellKind[], clock: Clock | undefined, oddTextsOf: number, book: ProblemBook, textBook: ProblemBook): Rows => {
  const readTime = clock?.form === 'iso' ? readIso : readClock;
  const width = layout.header.length;
  const expected = ((layout.source.size - layout.dataOffset) / layout.rowBytes) * 1.05;
  return new Rows(
    width, layout.delimiter.charCodeAt(0), layout.delimiter === ',' ? 46 : 44, kinds, clock?.column ?? -1, readTime, oddTextsOf, layout.text, book, textBook,
    width + layout.columnsLeftOut, expected, layout.source.size, layout.dataLine,
  );
};

/** Says what stands at lines rather than at cells: rows cut off, endless lines, quotes that never close. */
export const sayLines = (read: Read, layout: Layout, book: ProblemBook, rowRange: (sample: number) => Range): void => {
  const { cutOff, longLines, openQuotes } = read;
  if (cutOff) book.place('row-ragged', 'cut-off', cutOff.sample === undefined ? range(cutOff.line, 0, cutOff.line + 1, 0) : rowRange(cutOff.sample), { cells: cutOff.cells, expected: layout.header.length });
  if (longLines.length > 0) book.place('row-ragged', 'too-long', range(longLines[0], 0, longLines[0] + 1, 0), {}, { count: longLines.length });
  if (openQuotes.length > 0) book.place('value-not-a-number', 'quote-unclosed', range(openQuotes[0].line, 0, openQuotes[0].line + 1, 0), {}, { count: openQuotes.length });
  if (layout.columnsLeftOut > 0) book.place('row-ragged', 'too-many-columns', layout.headerRange, { kept: layout.header.length, leftOut: layout.columnsLeftOut });
};

const MOST_DUPLICATES = 5;

const sayHeader = (plans: readonly ColumnPlan[], layout: Layout, clock: Clock | undefined, book: ProblemBook): void => {
  if (layout.headless) { book.place('channel-missing', 'no-header', layout.headerRange, { columns: plans.length }); return; }
  const seen = new Map<string, ColumnPlan>();
  let duplicates = 0;
  for (const plan of plans) {
    const key = plan.header.toLowerCase();
    const before = seen.get(key);
    if (!before) { seen.set(key, plan); continue; }
    if (duplicates++ < MOST_DUPLICATES) book.place('header-duplicate', 'same-name', plan.headerRange, { name: plan.header, firstColumn: before.column + 1, column: plan.column + 1 }, { channel: plan.header });
  }
  for (const plan of plans.filter((each) => each.quantityFrom === 'guess').slice(0, MOST_DUPLICATES)) {
    book.place('channel-missing', 'name-guessed', plan.headerRange, { name: plan.name, quantity: plan.quantity ?? '', clock: plan.column === clock?.column }, { channel: plan.header });
  }
};

const readWide = (layout: Layout, options: ReadOptions, way: ReadRowsOptions): Session => {
  const book = new ProblemBook();
  const textBook = new ProblemBook();
  const plans = planColumns(layout, options.vehicle);
  const clock = chooseClock(plans, layout);
  const kinds = plans.map((plan) => (plan.column === clock?.column ? 'time' : kindOf(plan)));
  const rows = rowsFor(layout, kinds, clock, -1, book, textBook);
  const read = readRows(layout.source, layout.dataOffset, rows, way);
  const { values, offsets } = rows.columns.finish();
  const { filled, samples } = rows.columns;
  const notes = [...layout.notes, ...rows.notes];
  const metadata = metadataOf(notes);

  const hasClock = clock !== undefined && filled[clock.column] > 0;
  const clockRead = hasClock ? clockSeconds(values[clock.column], clock) : undefined;
  const stated = readRate(metadata.get('rate') ?? metadata.get('sample rate') ?? '');
  const time = clock && clockRead
    ? layTime(values[clock.column], clock.form === 'clock', limitOf('timeGapS', options.vehicle?.limits ?? {}).value)
    : countedTime(samples, 1 / (stated ?? ASSUMED_RATE_HZ));

  const channelPlans = plans.filter((plan) => plan !== clock?.plan);
  const channels = makeChannels(channelPlans, channelPlans.map((plan) => values[plan.column]), channelPlans.map((plan) => filled[plan.column]), metadata, book);
  const places = widePlaces({
    rows: layout.rows, offsets, lines: { samples, changeSamples: rows.columns.changeSamples, changeShifts: rows.columns.changeShifts }, literal: rows.literal,
    columnOf: channelPlans.map((plan) => plan.column), timeColumn: clock?.column ?? 0,
  });

  sayHeader(plans, layout, clock, book);
  sayUnits(clockRead ? [clockRead.plan, ...channelPlans] : channelPlans, channels, book);
  sayLines(read, layout, book, places.rowRange);
  if (!hasClock) book.place('channel-missing', 'no-time', clock?.plan.headerRange ?? first(layout), { rateHz: stated ?? ASSUMED_RATE_HZ, stated: stated !== undefined, unreadable: clock !== undefined });
  else sayTime(time, clock.plan.header, book, (sample) => places.columnRange(clock.column, sample));
  sayCells(rows, plans, book, textBook, time, places);
  if (samples === 0) book.place('channel-missing', 'no-rows', layout.headerRange, {});

  return finishSession(layout, {
    book, channels, time, timeKind: hasClock ? 'column' : 'assumed-rate', notes, form: 'wide', places,
    timeColumn: clock && clockRead ? { header: clock.plan.header, unit: clockRead.plan.unit, startIso: clockRead.startIso } : undefined,
    codes: codesOfColumns(rows, places),
  });
};

/** Says what the cells held: runs of texts and short rows, placeholders once. */
const sayCells = (rows: Rows, plans: readonly ColumnPlan[], book: ProblemBook, textBook: ProblemBook, time: LaidTime, places: ReturnType<typeof widePlaces>): void => {
  const { filled, samples } = rows.columns;
  // A column of which nothing is known and that holds mostly words is meant to: no trouble.
  const mixed = textBook.runs().filter((run) => filled[run.column] > rows.texts[run.column]);
  for (const run of [...book.runs(), ...mixed]) {
    if (run.fromSample >= samples) continue;
    const toSample = Math.min(run.toSample, samples - 1);
    const span = run.column < 0
      ? { start: places.rowRange(run.fromSample).start, end: places.rowRange(toSample).end }
      : { start: places.columnRange(run.column, run.fromSample).start, end: places.columnRange(run.column, toSample).end };
    const plan = plans[run.column];
    book.place(run.code, run.kind, span, { ...run.facts, ...(plan ? { known: plan.quantity !== undefined } : {}) }, {
      count: run.count, channel: plan?.header, timeS: [time.timeS[run.fromSample], time.timeS[toSample]],
    });
  }
  const seen = rows.placeholders;
  if (seen.count > 0 && seen.sample < samples) {
    book.place('value-not-a-number', 'placeholder', places.columnRange(seen.column, seen.sample), { texts: [...seen.texts], channels: [...seen.columns].map((column) => plans[column].name) }, { count: seen.count, channel: plans[seen.column].header });
  }
};

/** Codes of the code columns, one each, where a row shows one that the text above it did not. */
const codesOfColumns = (rows: Rows, places: ReturnType<typeof widePlaces>): LoggedCode[] => {
  const before = new Map<number, ReadonlySet<string>>();
  return rows.codes.filter((code) => code.sample < rows.columns.samples).flatMap(({ column, sample, text }) => {
    const shown = before.get(column) ?? new Set<string>();
    const found = [...text.matchAll(TROUBLE_CODE)];
    before.set(column, new Set(found.map((match) => match[0].toUpperCase())));
    const cell = places.columnRange(column, sample);
    return found.filter((match) => !shown.has(match[0].toUpperCase())).map((match) => {
      const quotes = cell.end.line === cell.start.line && cell.end.character - cell.start.character > text.length ? 1 : 0;
      const from = cell.start.character + quotes + match.index;
      return { text: match[0].toUpperCase(), sample, line: cell.start.line, range: range(cell.start.line, from, cell.start.line, from + match[0].length) };
    });
  });
};

