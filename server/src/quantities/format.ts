// Numbers as messages show them: as many digits as the reading is worth, and the unit behind.

import type { Unit, UnitId } from './units.js';

const DIGITS: Readonly<Partial<Record<UnitId, number>>> = {
  s: 2,
  ms: 2,
  us: 0,
  min: 1,
  h: 2,
  d: 5,
  rpm: 0,
  krpm: 2,
  Hz: 1,
  kPa: 0,
  Pa: 0,
  MPa: 3,
  bar: 2,
  mbar: 0,
  psi: 1,
  inHg: 1,
  mmHg: 0,
  'kgf/cm2': 2,
  'kPa-gauge': 0,
  'bar-gauge': 2,
  'mbar-gauge': 0,
  'psi-gauge': 1,
  'inHg-gauge': 1,
  'inHg-vacuum': 1,
  '%': 1,
  fraction: 3,
  lambda: 2,
  afr: 2,
  phi: 2,
  degC: 0,
  degF: 0,
  K: 0,
  deg: 1,
  'g/s': 1,
  'kg/h': 0,
  'lb/min': 1,
  'lb/h': 0,
  'cc/min': 0,
  mg: 1,
  'km/h': 0,
  mph: 0,
  'm/s': 1,
  V: 2,
  mV: 0,
  count: 0,
  flag: 0,
  code: 0,
};

/** A number for a message, with the digits usual for the unit or as many as asked; no unit behind. `—` where there is no number. */
export const formatNumber = (value: number, unitOrDigits: Unit | number): string => {
  if (!Number.isFinite(value)) return '—';
  const digits = typeof unitOrDigits === 'number' ? unitOrDigits : (DIGITS[unitOrDigits.id] ?? 2);
  const text = Math.abs(value) >= 1e15 ? String(value) : value.toFixed(digits);
  return Number(text) === 0 ? text.replace('-', '') : text;
};

/** The number with its unit behind: `190 kPa`, `λ 0.93`, `85 %`, `12.5 AFR (E85)`. */
export const formatValue = (value: number, unit: Unit, digits?: number): string => {
  const number = formatNumber(value, digits ?? unit);
  if (unit.id === 'lambda' || unit.id === 'phi') return `${unit.symbol} ${number}`;
  if (unit.id === 'deg') return `${number}°`;
  return unit.symbol === '' ? number : `${number} ${unit.symbol}`;
};

/** The decimal sign of a language (BCP 47): a comma where it has one, else a point, as in every file. */
export function decimalSign(language: string | undefined): ',' | '.' {
  // What the platform knows of languages takes it 20 ms to load, while a server starts.
  if (!language || /^en(-(us|gb))?$/i.test(language)) return '.';
  try {
    return new Intl.NumberFormat(language).formatToParts(0.5).some(({ type, value }) => type === 'decimal' && value === ',') ? ',' : '.';
  } catch {
    return '.'; // no such language
  }
}

/** Decimals that stand by themselves: none that are quoted out of a file, and none in a name or a version. */
const DECIMALS = /"[^"]*"|(?<![\w.,/\\-])(-?\d+)\.(\d+)(?![\w]*\.\w)/g;

/** Words for the eye with the reader's decimal sign; never for a file. */
export const withDecimalSign = (words: string, sign: ',' | '.'): string =>
  sign === '.'
    ? words
    : words.replace(DECIMALS, (found, whole?: string, part?: string) => (whole === undefined ? found : `${whole},${part}`));
