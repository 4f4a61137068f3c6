// The long form: one reading a row (time, channel, value, unit). Read with the same fast scanner, then turned into one sample a time.

import type { Session, SessionPlaces } from './session.js';
import { range, rangeOver, type Range } from '../range.js';
import { limitOf } from '../limits.js';
import type { ReadRowsOptions } from '../csv/readRows.js';
import { readRows } from '../csv/readRows.js';
import { flagOf, gearOf, TROUBLE_CODE, type Rows } from '../csv/rows.js';
import type { Layout } from './header.js';
import { mappingOf, planColumn, splitHeader, type ColumnPlan } from './describe.js';
import { makeChannels, sayUnits } from './convertColumns.js';
import { unpacked } from '../csv/packed.js';
import { ProblemBook } from '../problemBook.js';
import { lineOf, sampleNotAfter, unquote, type PlacedCell, type SampleLines } from './places.js';
import { countedTime, layTime } from './time.js';
import { clockSeconds, timeFormOf, type Clock } from './clock.js';
import { recognise } from './channelNames.js';
import { rowsFor } from './rowsFor.js';
import { sayLines, sayTime } from './saying.js';
import { finishSession, metadataOf, type ReadOptions } from './assemble.js';

const ROLES = {
  channel: /^(?:channel|channel name|signal|signal name|name|parameter|sensor|sensor name|measurement|quantity|variable|pid|item|tag)$/i,
  value: /^(?:value|reading|data|measured value|val)$/i,
  unit: /^(?:unit|units|unit of measure|uom)$/i,
};

interface Roles {
  readonly time: number;
  readonly channel: number;
  readonly value: number;
  readonly unit: number;
}

const rolesOf = (layout: Layout): Roles | undefined => {
  const names = layout.header.map((cell) => splitHeader(cell.text).name.replace(/_/g, ' '));
  const find = (role: keyof typeof ROLES): number => names.findIndex((name) => ROLES[role].test(name));
  const time = names.findIndex((name) => recognise(name)?.quantity === 'time');
  const roles = { time, channel: find('channel'), value: find('value'), unit: find('unit') };
  return !layout.headless && time >= 0 && roles.channel >= 0 && roles.value >= 0 && new Set([time, roles.channel, roles.value]).size === 3
    ? roles
    : undefined;
};

/** Whether the header is that of the long form: a time, a channel and a value column, and no column that names a quantity itself. */
export const isLongForm = (layout: Layout): boolean =>
  rolesOf(layout) !== undefined &&
  layout.header.every((cell) => {
    const quantity = recognise(splitHeader(cell.text).name)?.quantity;
    return quantity === undefined || quantity === 'time';
  });

/** Readings past this many different channels are left out: a column of free texts is no column of names. */
const MOST_CHANNELS = 1024;

/** One channel of the long form: what it is, and its readings by row. */
interface LongChannel {
  readonly name: string;
  readonly unitText: string;
  readonly firstRow: number;
}

const readingsOf = (
  rows: Rows,
  roles: Roles,
  values: readonly Float64Array[],
): { channels: LongChannel[]; channelOfRow: Int32Array; leftOut: number } => {
  const nameText = rows.nameTexts(roles.channel);
  const unitText = roles.unit >= 0 ? rows.nameTexts(roles.unit) : (): string => '';
  const channels: LongChannel[] = [];
  const byKey = new Map<string, number>();
  const named = new Map<number, string>();
  const { samples } = rows.columns;
  const channelOfRow = new Int32Array(samples).fill(-1);
  let leftOut = 0;
  for (let row = 0; row < samples; row++) {
    const name = values[roles.channel][row];
    if (name !== name) continue;
    const unit = roles.unit >= 0 ? values[roles.unit][row] : NaN;
    const key = `${name} ${unit}`;
    let index = byKey.get(key);
    if (index === undefined) {
      const text = nameText(name);
      // A blank unit is the unit that the channel has elsewhere.
      const known =
        unit !== unit
          ? channels.findIndex((channel) => channel.name === text)
          : channels.findIndex((channel) => channel.name === text && channel.unitText === '');
      if (known >= 0 && unit !== unit) index = known;
      else if (known >= 0) {
        channels[known] = { ...channels[known], unitText: unitText(unit) };
        index = known;
      } else if (channels.length < MOST_CHANNELS) {
        index = channels.length;
        channels.push({ name: text, unitText: unit === unit ? unitText(unit) : '', firstRow: row });
      } else index = -1;
      byKey.set(key, index);
      named.set(name, text);
    }
    if (index < 0) leftOut++;
    channelOfRow[row] = index;
  }
  return { channels, channelOfRow, leftOut };
};

/** Rows in the order of time: as they stand, unless each channel's readings stand together and the clock starts over with each. */
const orderOf = (times: Float64Array, channelOfRow: Int32Array): { order: Uint32Array; sorted: boolean } => {
  const order = Uint32Array.from({ length: times.length }, (_, row) => row);
  const begun = new Set<number>([channelOfRow[0]]);
  let backs = 0;
  let starts = 0;
  for (let row = 1; row < times.length; row++) {
    const fresh = channelOfRow[row] !== channelOfRow[row - 1] && !begun.has(channelOfRow[row]);
    begun.add(channelOfRow[row]);
    if (times[row] < times[row - 1]) {
      backs++;
      if (fresh) starts++;
    }
  }
  if (backs === 0 || backs !== starts) return { order, sorted: false };
  order.sort((a, b) => times[a] - times[b] || a - b);
  return { order, sorted: true };
};

export const readLong = (layout: Layout, options: ReadOptions, way: ReadRowsOptions): Session => {
  const roles = rolesOf(layout) as Roles;
  const book = new ProblemBook();
  const timePlan = planColumn(layout.header[roles.time], roles.time, layout.unitsRow?.[roles.time], undefined);
  const form = timeFormOf(layout.firstRows.map((row) => row[roles.time] ?? '')) ?? 'number';
  const clock: Clock = { column: roles.time, form, plan: timePlan };
  const kinds = layout.header.map((_, column) => (column === roles.time ? 'time' : column === roles.value ? 'number' : 'name'));
  const rows = rowsFor(layout, kinds, clock, roles.value, book, new ProblemBook());
  const read = readRows(layout.source, layout.dataOffset, rows, way);
  const { columns: readColumns, offsets } = rows.columns.finish(),
    values = readColumns.map((column) => unpacked(column!));
  const lines: SampleLines = {
    samples: rows.columns.samples,
    changeSamples: rows.columns.changeSamples,
    changeShifts: rows.columns.changeShifts,
  };
  const notes = [...layout.notes, ...rows.notes];
  const { channels: found, channelOfRow } = readingsOf(rows, roles, values);
  const clockRead = clockSeconds(values[roles.time], clock);
  const { order } = orderOf(values[roles.time], channelOfRow);

  // A sample ends where the clock moves on or a channel speaks again.
  const rowTimes = values[roles.time];
  const sampleOfRow = new Int32Array(lines.samples).fill(-1);
  const sampleTimes: number[] = [];
  // A sample's rows stand together in `order`, at most one a channel.
  const startOf: number[] = [];
  const firstRowOf: number[] = [];
  const lastSample = new Int32Array(found.length).fill(-1);
  let previous = NaN;
  for (let at = 0; at < order.length; at++) {
    const row = order[at];
    const channel = channelOfRow[row];
    if (channel < 0) continue;
    const time = rowTimes[row] === rowTimes[row] ? rowTimes[row] : previous;
    if (time !== previous || sampleTimes.length === 0 || lastSample[channel] === sampleTimes.length - 1) {
      sampleTimes.push(time);
      firstRowOf.push(row);
      startOf.push(at);
    }
    previous = time;
    lastSample[channel] = sampleTimes.length - 1;
    sampleOfRow[row] = sampleTimes.length - 1;
  }
  const samples = sampleTimes.length;
  const columns = found.map(() => new Float64Array(samples).fill(NaN));
  const filled = found.map(() => 0);
  for (let row = 0; row < lines.samples; row++) {
    const channel = channelOfRow[row];
    if (channel < 0) continue;
    const value = values[roles.value][row];
    columns[channel][sampleOfRow[row]] = value;
    if (value === value) filled[channel]++;
  }

  const cellsAt = (row: number): readonly PlacedCell[] => layout.rows.cells(offsets.at(row), lineOf(lines, row), rows.literal.has(row));
  const cell = (row: number, column: number): PlacedCell => {
    const cells = cellsAt(row);
    return cells[column] ?? cells[0];
  };
  const rowRange = (row: number): Range => {
    const cells = cellsAt(row);
    return { start: cells[0].range.start, end: cells[cells.length - 1].range.end };
  };
  const plans: ColumnPlan[] = found.map((channel, index) =>
    planColumn(
      { text: channel.name, range: cell(channel.firstRow, roles.channel).range },
      index,
      channel.unitText,
      mappingOf(options.vehicle, channel.name),
      'column',
    ),
  );
  const time =
    samples > 0
      ? layTime(Float64Array.from(sampleTimes), form === 'clock', limitOf('timeGapS', options.vehicle?.limits ?? {}).value)
      : countedTime(0, 0);

  settleTexts(rows, { channelOfRow, sampleOfRow, plans, columns, filled }, book);
  const channels = makeChannels(plans, columns, filled, metadataOf(notes), book);
  /** The row of a channel's reading in a sample; undefined where it has none. */
  const rowOf = (channel: number, sample: number): number | undefined => {
    if (channel < 0) return undefined;
    for (let at = startOf[sample]; at < (startOf[sample + 1] ?? order.length); at++)
      if (channelOfRow[order[at]] === channel) return order[at];
    return undefined;
  };
  const cellRange = (channel: number, sample: number): Range => {
    if (sample < 0 || sample >= samples) return range(0, 0, 0, 0);
    const row = rowOf(channel, sample);
    return row === undefined ? cell(firstRowOf[sample], roles.time).range : cell(row, roles.value).range;
  };
  const places: SessionPlaces = {
    cellRange,
    spanRange: (channel, from, to) => rangeOver(cellRange(channel, from), cellRange(channel, to)),
    cellText: (channel, sample) => {
      if (channel < 0) return unquote(cell(firstRowOf[sample], roles.time).text);
      const row = rowOf(channel, sample);
      return row === undefined ? '' : unquote(cell(row, roles.value).text);
    },
    lineOf: (sample) => lineOf(lines, firstRowOf[sample]),
    sampleAt: (line) => {
      const row = sampleNotAfter(lines, line);
      return row >= 0 && lineOf(lines, row) === line && sampleOfRow[row] >= 0 ? sampleOfRow[row] : undefined;
    },
    channelAt: (line, character) => {
      const row = sampleNotAfter(lines, line);
      if (row < 0 || lineOf(lines, row) !== line) return undefined;
      const column = cellsAt(row).findIndex(({ fieldEnd }) => character <= fieldEnd.character);
      return column === roles.time ? -1 : column >= 0 && channelOfRow[row] >= 0 ? channelOfRow[row] : undefined;
    },
  };

  sayUnits([clockRead.plan, ...plans], channels, book);
  sayLines(read, rows, layout, book, rowRange);
  if (samples > 0) sayTime(time, timePlan.header, book, (sample) => cell(firstRowOf[sample], roles.time).range);
  else book.place('channel-missing', 'no-rows', layout.headerRange, {});
  for (const run of book.runs()) {
    if (run.fromSample >= lines.samples) continue;
    const to = Math.min(run.toSample, lines.samples - 1);
    const span =
      run.column < 0
        ? { start: rowRange(run.fromSample).start, end: rowRange(to).end }
        : { start: cell(run.fromSample, run.column).range.start, end: cell(to, run.column).range.end };
    const channel =
      run.column === roles.value ? found[channelOfRow[run.fromSample]]?.name : run.column >= 0 ? layout.header[run.column].text : undefined;
    const at = (row: number): number => time.timeS[Math.max(0, sampleOfRow[row])] ?? 0;
    book.place(run.code, run.kind, span, { ...run.facts, known: true }, { count: run.count, channel, timeS: [at(run.fromSample), at(to)] });
  }
  if (rows.placeholders.count > 0 && rows.placeholders.sample < lines.samples) {
    const { sample, column, count, texts } = rows.placeholders;
    book.place(
      'value-not-a-number',
      'placeholder',
      cell(sample, column).range,
      { texts: [...texts], channels: [found[channelOfRow[sample]]?.name ?? ''] },
      { count, channel: found[channelOfRow[sample]]?.name },
    );
  }
  const codes = rows.oddTexts.flatMap(({ sample: row, text }) => {
    if (plans[channelOfRow[row]]?.quantity !== 'trouble-code') return [];
    const at = cell(row, roles.value).range;
    return [...text.matchAll(TROUBLE_CODE)].map((match) => {
      const from = at.start.character + Math.max(0, cell(row, roles.value).text.indexOf(match[0]));
      return {
        text: match[0].toUpperCase(),
        sample: sampleOfRow[row],
        line: at.start.line,
        range: range(at.start.line, from, at.start.line, from + match[0].length),
      };
    });
  });
  return finishSession(layout, {
    book,
    channels,
    time,
    timeKind: 'column',
    notes,
    codes,
    form: 'long',
    places,
    timeColumn: { header: timePlan.header, unit: clockRead.plan.unit, startIso: clockRead.startIso },
  });
};

/**
 * What the value column's texts mean, now that the channel of each is known: flags and gears are values, codes are kept, the rest is no
 * number.
 */
const settleTexts = (
  rows: Rows,
  known: {
    channelOfRow: Int32Array;
    sampleOfRow: Int32Array;
    plans: readonly ColumnPlan[];
    columns: readonly Float64Array[];
    filled: number[];
  },
  book: ProblemBook,
): void => {
  for (const { sample: row, text } of rows.oddTexts) {
    const channel = known.channelOfRow[row];
    if (row >= known.channelOfRow.length || channel < 0) continue;
    const { quantity } = known.plans[channel];
    if (quantity === 'trouble-code' && text.match(TROUBLE_CODE)) continue;
    const value = quantity === 'gear' ? gearOf(text) : quantity === undefined || quantity === 'fuel-cut' ? flagOf(text) : undefined;
    if (value !== undefined) {
      known.columns[channel][known.sampleOfRow[row]] = value;
      known.filled[channel]++;
    } else if (quantity !== undefined) {
      book.note(
        'value-not-a-number',
        /^[+-]?(?:inf|[\d.]+e)/i.test(text) ? 'not-finite' : /^[+-]?\d*(?:,\d+)+(?:\.\d*)?$/.test(text) ? 'comma' : 'text',
        rows.kinds.indexOf('number'),
        row,
        () => ({ text }),
      );
    }
  }
};
