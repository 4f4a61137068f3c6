// A simulated drive as the text of a `*.session.csv`, in any of the dialects that loggers write.

import { dialScale } from './logging.js';
import type { Drive } from './simulateDrive.js';

const PSI_KPA = 6.894757293168361;

export interface Dialect {
  readonly delimiter: ',' | ';' | '\t';
  readonly decimalComma: boolean;
  readonly brackets: '()' | '[]';
  readonly encoding: 'utf-8' | 'utf-8-bom' | 'utf-16le' | 'windows-1252';
  readonly lineEnd: '\n' | '\r\n';
  /** `afr`: on the gasoline scale (14.7). */
  readonly lambda: 'lambda' | 'afr' | 'phi';
  readonly pressure: 'kPa' | 'psi gauge' | 'bar' | 'mbar';
  readonly temperature: '°C' | '°F';
  readonly speed: 'km/h' | 'mph';
  readonly time: 's' | 'ms' | 'h:mm:ss' | 'iso' | 'whole-s';
  readonly unitsRow: boolean;
  readonly trailingDelimiter: boolean;
  readonly spaceAfterDelimiter: boolean;
  readonly notes: readonly (readonly [key: string, value: string])[];
  /** Headers that differ from the usual ones, by quantity. */
  readonly headers: Readonly<Record<string, string>>;
  /** The most and least that the logger can write, in the canonical unit, by quantity. */
  readonly ends: Readonly<Record<string, readonly [number, number]>>;
}

/** Comma, point, UTF-8, canonical units. */
export const PLAIN: Dialect = {
  delimiter: ',',
  decimalComma: false,
  brackets: '()',
  encoding: 'utf-8',
  lineEnd: '\n',
  lambda: 'lambda',
  pressure: 'kPa',
  temperature: '°C',
  speed: 'km/h',
  time: 's',
  unitsRow: false,
  trailingDelimiter: false,
  spaceAfterDelimiter: false,
  notes: [],
  headers: {},
  ends: {},
};

const TITLES: Readonly<Record<string, string>> = {
  'engine-speed': 'Engine Speed',
  'manifold-pressure': 'Manifold Pressure',
  'barometric-pressure': 'Barometric Pressure',
  throttle: 'Throttle',
  pedal: 'Pedal',
  lambda: 'Lambda',
  'lambda-2': 'Lambda Bank 2',
  'target-lambda': 'Target Lambda',
  'short-term-fuel-trim': 'Short Term Fuel Trim',
  'long-term-fuel-trim': 'Long Term Fuel Trim',
  'short-term-fuel-trim-2': 'Short Term Fuel Trim Bank 2',
  'long-term-fuel-trim-2': 'Long Term Fuel Trim Bank 2',
  'intake-air-temperature': 'Intake Air Temperature',
  'coolant-temperature': 'Coolant Temperature',
  'oil-temperature': 'Oil Temperature',
  'exhaust-gas-temperature': 'Exhaust Gas Temperature',
  'fuel-pressure': 'Fuel Pressure',
  'ignition-advance': 'Ignition Advance',
  'knock-retard': 'Knock Retard',
  'injector-pulse-width': 'Injector Pulse Width',
  'injector-duty': 'Injector Duty',
  'mass-air-flow': 'Mass Air Flow',
  'mass-air-flow-signal': 'Mass Air Flow Signal',
  'vehicle-speed': 'Vehicle Speed',
  'battery-voltage': 'Battery Voltage',
  'ethanol-content': 'Ethanol Content',
  'engine-load': 'Engine Load',
  gear: 'Gear',
  'fuel-cut': 'Fuel Cut',
};

interface Column {
  readonly title: string;
  readonly unit: string;
  readonly digits: number;
  readonly write: (canonical: number) => number;
}

function columnOf(name: string, dialect: Dialect, barometerKPa: number): Column {
  const dial = dialScale(name),
    title = dialect.headers[name] ?? TITLES[name] ?? name;
  const [least, most] = dialect.ends[name] ?? [-Infinity, Infinity];
  const column = (unit: string, digits: number, write: (x: number) => number = (x) => x): Column => ({
    title,
    unit,
    digits,
    write: (x) => write(Math.max(least, Math.min(most, x))),
  });
  switch (dial.unit) {
    case 'lambda':
      return dialect.lambda === 'afr'
        ? { ...column('AFR', 2, (x) => x * 14.7), title: title.replace('Lambda', 'Air Fuel Ratio') }
        : dialect.lambda === 'phi'
          ? column('φ', 3, (x) => 1 / x)
          : column('λ', dial.digits);
    case 'kPa':
      if (dialect.pressure === 'psi gauge' && name === 'manifold-pressure')
        return column('psi gauge', 2, (x) => (x - barometerKPa) / PSI_KPA);
      if (dialect.pressure === 'bar') return column('bar', 3, (x) => x / 100);
      if (dialect.pressure === 'mbar') return column('mbar', 0, (x) => x * 10);
      return column('kPa', dial.digits);
    case 'kPa-gauge':
      return dialect.pressure === 'psi gauge'
        ? column('psi gauge', 1, (x) => x / PSI_KPA)
        : dialect.pressure === 'bar'
          ? column('bar gauge', 2, (x) => x / 100)
          : column('kPa gauge', dial.digits);
    case 'degC':
      return dialect.temperature === '°F' ? column('°F', 1, (x) => x * 1.8 + 32) : column('°C', dial.digits);
    case 'km/h':
      return dialect.speed === 'mph' ? column('mph', 1, (x) => x / 1.609344) : column('km/h', dial.digits);
    case 'deg':
      return column(dialect.encoding === 'windows-1252' ? '°' : 'deg', dial.digits);
    case 'count':
    case 'flag':
      return column('', dial.digits);
    default:
      return column(dial.unit, dial.digits);
  }
}

const pad = (value: number, width: number): string => String(value).padStart(width, '0');

function timeText(timeS: number, dialect: Dialect): string {
  switch (dialect.time) {
    case 'ms':
      return String(Math.round(timeS * 1000));
    case 'whole-s':
      return String(Math.floor(timeS));
    case 'h:mm:ss': {
      const ms = Math.round(timeS * 1000);
      return `${Math.floor(ms / 3600000)}:${pad(Math.floor(ms / 60000) % 60, 2)}:${pad(Math.floor(ms / 1000) % 60, 2)}.${pad(ms % 1000, 3)}`;
    }
    case 'iso':
      return new Date(Date.UTC(2026, 8, 12, 9, 30) + Math.round(timeS * 1000)).toISOString();
    default:
      return timeS.toFixed(3);
  }
}

/** The text of a session before it is encoded. */
export function toSessionCsv(drive: Drive, change: Partial<Dialect> = {}): string {
  const dialect = { ...PLAIN, ...change },
    names = [...drive.channels.keys()];
  const columns = names.map((name) => columnOf(name, dialect, drive.car.barometerKPa)),
    series = names.map((name) => drive.channels.get(name)!.values);
  const separator = dialect.delimiter + (dialect.spaceAfterDelimiter ? ' ' : ''),
    last = dialect.trailingDelimiter ? dialect.delimiter : '';
  const decimal = (text: string): string => (dialect.decimalComma ? text.replace('.', ',') : text);
  const line = (cells: readonly string[]): string => cells.join(separator) + last;
  const [open, close] = dialect.brackets,
    timeUnit = dialect.time === 'ms' ? 'ms' : dialect.time === 's' || dialect.time === 'whole-s' ? 's' : '';
  const lines = dialect.notes.map(([key, value]) => `# ${key}: ${value}`);
  const header = (title: string, unit: string): string => (dialect.unitsRow || unit === '' ? title : `${title} ${open}${unit}${close}`);
  lines.push(line([header('Time', timeUnit), ...columns.map((column) => header(column.title, column.unit))]));
  if (dialect.unitsRow) lines.push(line([timeUnit, ...columns.map((column) => column.unit)]));
  for (let i = 0; i < drive.timeS.length; i++) {
    const cells = [decimal(timeText(drive.timeS[i], dialect))];
    for (let c = 0; c < columns.length; c++) {
      const value = series[c][i];
      cells.push(Number.isNaN(value) ? '' : decimal(columns[c].write(value).toFixed(columns[c].digits)));
    }
    lines.push(line(cells));
  }
  return lines.join(dialect.lineEnd) + dialect.lineEnd;
}

/** Text as bytes in the dialect's encoding. Windows-1252 here covers what the headers use: ASCII, Latin-1. */
export function encode(text: string, encoding: Dialect['encoding']): Uint8Array {
  switch (encoding) {
    case 'utf-8':
      return Buffer.from(text, 'utf8');
    case 'utf-8-bom':
      return Buffer.from(`\ufeff${text}`, 'utf8');
    case 'utf-16le':
      return Buffer.from(`\ufeff${text}`, 'utf16le');
    case 'windows-1252': {
      // λ and φ are not in that page; such loggers spell them out.
      return Buffer.from(text.replaceAll('λ', 'lambda').replaceAll('φ', 'phi'), 'latin1');
    }
  }
}
