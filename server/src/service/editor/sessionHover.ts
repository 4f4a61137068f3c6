// What a reading, a header or a time of a session is, in every unit and in its surroundings.

import { checkFirstOf, troubleCodeOf } from '../../findings/troubleCodes.js';
import type { Position } from '../../formats/range.js';
import type { Channel } from '../../formats/session/session.js';
import type { Table } from '../../formats/table/table.js';
import { vehicleFuel } from '../../formats/vehicle/vehicleFuel.js';
import { relatedValues } from '../../quantities/convert.js';
import { formatNumber, formatValue } from '../../quantities/format.js';
import { GASOLINE_SCALE_AFR } from '../../quantities/fuels.js';
import { QUANTITIES, type QuantityId } from '../../quantities/quantity.js';
import { UNITS, type ConversionContext } from '../../quantities/units.js';
import type { EventKind, FaultKind, Signals } from '../../signals/signals.js';
import type { Card } from './card.js';
import { DELAY_FROM, type Delays } from '../delays.js';
import { fuelledCell } from '../fuelledCell.js';
import { powerAt, pullFacts } from './pullFacts.js';

/** The fuel table that a session speaks of, and how late its readings are. */
export interface FuelledBy {
  readonly table: Table;
  readonly name: string;
  readonly delays: Delays;
}

/** The card for a place in a session; undefined between the cells and on notes. `fuelTable` is the vehicle's, where it has one. */
export function sessionHover(signals: Signals, position: Position, fuelTable: FuelledBy | undefined): Card | undefined {
  const { session } = signals;
  const code = codeCard(signals, position);
  if (code) return code;
  const header = session.channels.find(
    ({ headerRange: { start, end } }) =>
      start.line === position.line && start.character <= position.character && position.character < end.character,
  );
  if (header) return headerCard(signals, header);
  const sample = session.places.sampleAt(position.line);
  const index = session.places.channelAt(position.line, position.character);
  const channel = index === undefined ? undefined : session.channels[index];
  if (sample === undefined || !channel) return undefined;
  return readingCard(signals, channel, sample, fuelTable);
}

/** A trouble code under the mouse, in a cell of the code column or in a note. */
function codeCard({ session }: Signals, { line, character }: Position): Card | undefined {
  const sample = session.places.sampleAt(line);
  const index = session.places.channelAt(line, character);
  const inColumn = sample !== undefined && index !== undefined && session.channels[index]?.quantity === 'trouble-code';
  const place = inColumn
    ? session.places.cellRange(index, sample)
    : session.codes.find(({ range: { start, end } }) => start.line === line && start.character <= character && character <= end.character)
        ?.range;
  if (!place) return undefined;
  const texts = inColumn
    ? session.places.cellText(index, sample).split(/[^A-Za-z0-9]+/)
    : session.codes.filter(({ range }) => range === place).map(({ text }) => text);
  const codes = texts.flatMap((text) => troubleCodeOf(text) ?? []);
  return codes.length === 0
    ? undefined
    : {
        range: place,
        title: codes.map(({ code }) => code).join(', '),
        rows: [],
        notes: codes.flatMap((each) => [
          `${each.code}: ${each.says ?? `${each.area}; ${each.definedBy === 'manufacturer' ? "the maker's own code, see the maker's documents" : 'a standard code'}`}.`,
          `First ${checkFirstOf(each)}.`,
        ]),
      };
}

const FROM: Readonly<Record<Channel['quantityFrom'], string>> = {
  vehicle: 'mapped in vehicle.json',
  name: 'recognised by its name',
  standard: 'as SAE J1979 has it',
  guess: 'guessed from its name: check it',
  none: 'not recognised',
};
const UNIT_FROM: Readonly<Record<Channel['unitFrom'], string>> = {
  vehicle: 'from vehicle.json',
  header: 'from the header',
  'units-row': 'from the units row',
  column: 'from the unit column',
  standard: 'as SAE J1979 has it',
  assumed: 'assumed: the log does not say',
  none: 'not known',
};
const EVENTS: Readonly<Record<EventKind, string>> = {
  'engine-off': 'engine off',
  cranking: 'cranking',
  'warm-up': 'warm-up',
  idle: 'idle',
  cruise: 'cruise',
  pull: 'pull',
  overrun: 'overrun: fuel cut, lambda shows air',
  'tip-in': 'tip-in',
  'gear-shift': 'gear shift',
};
const FAULTS: Readonly<Record<FaultKind, string>> = {
  dropout: 'dropped out',
  'clipped-low': 'at the lower end of its range',
  'clipped-high': 'at the upper end of its range',
  stuck: 'stuck',
  cold: 'sensor still cold',
  implausible: 'not plausible',
};

function headerCard(signals: Signals, channel: Channel): Card {
  const { session } = signals;
  const rows: [string, string][] = [
    [
      'Quantity',
      channel.quantity
        ? `${QUANTITIES[channel.quantity].title} (${FROM[channel.quantityFrom]})`
        : channel.quantityFrom === 'vehicle'
          ? 'none that is known, as vehicle.json says'
          : FROM.none,
    ],
    ['Unit', channel.unit ? `${channel.unit.symbol || 'none'} (${UNIT_FROM[channel.unitFrom]})` : UNIT_FROM.none],
    ['Readings', `${channel.filled} in ${session.samples} rows${rateWords(channel, signals)}`],
  ];
  const range = rangeOfValues(channel.values);
  if (range && channel.quantity !== 'trouble-code') {
    const unit = channel.quantity ? UNITS[QUANTITIES[channel.quantity].unit] : (channel.unit ?? UNITS.count);
    rows.push([
      'Range here',
      `${formatNumber(range.low, unit)} to ${formatValue(range.high, unit)}, mean ${formatNumber(range.mean, unit)}`,
    ]);
  }
  const faults = signals.faults.filter((fault) => fault.channel === channel);
  rows.push([
    'Health',
    faults.length === 0 ? (channel.quantity ? 'nothing found' : 'not judged: the channel is not known') : healthWords(signals, faults),
  ]);
  const notes =
    channel.quantity || channel.quantityFrom === 'vehicle'
      ? []
      : ['To have it read, map its exact header to a quantity under "channels" in vehicle.json.'];
  return { range: channel.headerRange, title: channel.name || channel.header, rows, notes };
}

function readingCard(signals: Signals, channel: Channel, sample: number, fuelTable: FuelledBy | undefined): Card {
  const { session, timeS } = signals;
  const value = channel.values[sample];
  const written = session.places.cellText(channel.index, sample);
  const rows: [string, string][] = [];
  const notes: string[] = [];
  if (!Number.isNaN(value) && channel.quantity && channel.quantity !== 'trouble-code') {
    const fuel = vehicleFuel(signals.vehicle);
    const context: ConversionContext = { barometerKPa: signals.barometer.kPa, stoichAfr: GASOLINE_SCALE_AFR };
    const unit = UNITS[QUANTITIES[channel.quantity].unit];
    for (const each of relatedValues(value, unit, context, fuel)) rows.push([each.unit.symbol, formatNumber(each.value, each.unit)]);
    if (QUANTITIES[channel.quantity].dimension === 'mixture' && !fuel)
      notes.push('No fuel is named in vehicle.json: AFR is shown on the gasoline scale only.');
    if (QUANTITIES[channel.quantity].dimension === 'pressure' && signals.barometer.from === 'assumed') {
      notes.push(`Air pressure is not logged: ${formatValue(signals.barometer.kPa, UNITS.kPa)} is assumed between gauge and absolute.`);
    } else if (QUANTITIES[channel.quantity].dimension === 'pressure' && signals.barometer.from === 'wide-open') {
      notes.push(
        `Air pressure is not logged: ${formatValue(signals.barometer.kPa, UNITS.kPa)}, the manifold's pressure behind the wide open throttle, is taken for it between gauge and absolute.`,
      );
    }
    const target = signals.targetLambda?.values[sample] ?? NaN;
    if (isLambda(channel.quantity) && !Number.isNaN(target)) {
      const offPercent = (value / target - 1) * 100;
      rows.push([
        'Target',
        `λ ${formatNumber(target, 3)} (${signals.targetLambda?.from === 'table' ? 'target table' : 'logged'}), ${Math.abs(offPercent).toFixed(1)} % ${offPercent > 0 ? 'leaner' : 'richer'}`,
      ]);
    }
  } else if (Number.isNaN(value)) {
    rows.push(['Reading', written === '' ? 'no new sample in this row' : 'not a number']);
    const held = channel.quantity && signals.channel(channel.quantity) === channel ? signals.held(channel.quantity)?.[sample] : undefined;
    if (channel.quantity && held !== undefined && !Number.isNaN(held))
      rows.push(['Held', formatValue(held, UNITS[QUANTITIES[channel.quantity].unit])]);
  }
  const fuelled =
    fuelTable && isLambda(channel.quantity) ? fuelledCell(signals, fuelTable.table, sample, fuelTable.delays.delaysS) : undefined;
  if (fuelTable && fuelled)
    rows.push([
      'Fuelled by',
      `${cellWords(fuelTable.table, fuelled.row, fuelled.column)} of ${fuelTable.name}, ${Math.round(fuelled.delayS * 1000)} ms earlier (${DELAY_FROM[fuelTable.delays.from]})`,
    ]);
  rows.push(...surroundings(signals, channel, sample));
  const pull =
    channel.quantity && TELLS_OF_PULLS.has(channel.quantity)
      ? signals.pulls.findIndex(({ from, to }) => from <= sample && sample < to)
      : -1;
  if (pull >= 0) addPull(signals, pull, sample, fuelTable?.table, rows, notes);
  rows.push(['Time', `${timeS[sample].toFixed(3)} s`]);
  const fault = signals.faults.find((each) => each.channel === channel && each.from <= sample && sample < each.to);
  if (fault)
    notes.unshift(
      `Do not believe this reading: ${FAULTS[fault.kind]} from ${timeS[fault.from].toFixed(2)} s to ${timeS[fault.to - 1].toFixed(2)} s.`,
    );
  const title = written === '' ? channel.name : `${channel.name}: ${written}${channel.unit?.symbol ? ` ${channel.unit.symbol}` : ''}`;
  return { range: session.places.cellRange(channel.index, sample), title, rows, notes };
}

/** Readings on which a mechanic looks for the pull as a whole. */
const TELLS_OF_PULLS: ReadonlySet<QuantityId> = new Set(['engine-speed', 'vehicle-speed', 'gear', 'manifold-pressure', 'mass-air-flow']);

/** Power, air and fuel of the pull; what is missing for them only where vehicle.json sets out to tell power. */
function addPull(
  signals: Signals,
  index: number,
  sample: number,
  fuelTable: Table | undefined,
  rows: [string, string][],
  notes: string[],
): void {
  const { rows: facts, says, assumed, unknown } = pullFacts(signals, signals.pulls[index], fuelTable);
  const here = powerAt(signals, signals.pulls[index], sample);
  rows.push(...(here === undefined ? [] : [['Wheel power here', `${here.toFixed(0)} kW`] as [string, string]]));
  rows.push(...facts.map(([label, value]): [string, string] => [`Pull ${index + 1}: ${label[0].toLowerCase()}${label.slice(1)}`, value]));
  notes.push(...says);
  if (Object.keys(signals.vehicle.body).length === 0 && signals.vehicle.goal.wheelPowerKW === undefined) return;
  notes.push(...unknown, ...(assumed.length > 0 ? [`Taken for granted: ${assumed.join('; ')}.`] : []));
}

/** The operating point and what the engine was doing. */
function surroundings(signals: Signals, channel: Channel, sample: number): [string, string][] {
  const at = (quantity: QuantityId): string | undefined => {
    const value = channel.quantity === quantity ? NaN : (signals.held(quantity)?.[sample] ?? NaN);
    return Number.isNaN(value) ? undefined : formatValue(value, UNITS[QUANTITIES[quantity].unit]);
  };
  const speed = at('engine-speed');
  const pressure = at('manifold-pressure');
  const throttle = at('throttle');
  const point = [speed, pressure, throttle && `${throttle} throttle`].filter((part) => part !== undefined).join(', ');
  const doing = doingWords(signals, sample);
  return [...(point ? [['Operating point', point] as [string, string]] : []), ...(doing ? [['Engine', doing] as [string, string]] : [])];
}

/** What the engine was doing, `pull; tip-in`; empty where nothing is known. */
export const doingWords = (signals: Signals, sample: number): string =>
  [...new Set(signals.events.filter(({ from, to }) => from <= sample && sample < to).map(({ kind }) => EVENTS[kind]))].join('; ');

/** Which channels are not to be believed at the sample, and why. */
export const doubtWords = (signals: Signals, sample: number): string[] =>
  signals.faults
    .filter(({ from, to }) => from <= sample && sample < to)
    .map(({ channel, kind }) => `${channel.name || channel.header}: ${FAULTS[kind]}`);

/** `3200 rpm, 160 kPa`: a cell by its breakpoints, as written. */
export function cellWords(table: Table, row: number, column: number): string {
  const along = (axis: Table['columns'], index: number): string | undefined =>
    axis.values.length > 1 ? `${String(axis.values[index])}${axis.unit?.symbol ? ` ${axis.unit.symbol}` : ''}` : undefined;
  return `cell ${[along(table.columns, column), along(table.rows, row)].filter((part) => part !== undefined).join(', ')}`;
}

export const isLambda = (quantity: QuantityId | undefined): boolean => quantity === 'lambda' || quantity === 'lambda-2';

function healthWords(signals: Signals, faults: Signals['faults']): string {
  const seconds = new Map<FaultKind, { count: number; lastsS: number }>();
  for (const { kind, from, to } of faults) {
    const sum = seconds.get(kind) ?? { count: 0, lastsS: 0 };
    seconds.set(kind, { count: sum.count + 1, lastsS: sum.lastsS + signals.timeS[to - 1] - signals.timeS[from] + signals.stepS });
  }
  return [...seconds]
    .map(([kind, { count, lastsS }]) => `${FAULTS[kind]} ${count === 1 ? 'once' : `${count} times`}, ${lastsS.toFixed(1)} s`)
    .join('; ');
}

function rateWords({ filled }: Channel, { timeS }: Signals): string {
  const lastsS = timeS.length > 1 ? timeS[timeS.length - 1] - timeS[0] : 0;
  return lastsS > 0 && filled > 1 ? `, ${((filled - 1) / lastsS).toFixed(1)} a second` : '';
}

function rangeOfValues(values: Float64Array): { low: number; high: number; mean: number } | undefined {
  let low = Infinity,
    high = -Infinity,
    sum = 0,
    count = 0;
  for (const value of values) {
    if (Number.isNaN(value)) continue;
    if (value < low) low = value;
    if (value > high) high = value;
    sum += value;
    count++;
  }
  return count > 0 ? { low, high, mean: sum / count } : undefined;
}
