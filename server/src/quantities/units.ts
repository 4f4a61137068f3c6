// Units: how they are written in headers, and how a value in one becomes a value in another.

export type Dimension =
  | 'time'
  | 'rotation'
  | 'pressure'
  | 'ratio'
  | 'mixture'
  | 'temperature'
  | 'angle'
  | 'mass-flow'
  | 'volume-flow'
  | 'mass'
  | 'speed'
  | 'voltage'
  | 'signal'
  | 'count'
  | 'flag'
  | 'code';

/** Stable names of units. `afr` is a ratio by mass, for the fuel that the unit names or else on the gasoline scale. */
export type UnitId =
  | 's'
  | 'ms'
  | 'us'
  | 'min'
  | 'h'
  | 'd'
  | 'rpm'
  | 'krpm'
  | 'Hz'
  | 'kPa'
  | 'Pa'
  | 'MPa'
  | 'bar'
  | 'mbar'
  | 'psi'
  | 'inHg'
  | 'mmHg'
  | 'kgf/cm2'
  | 'kPa-gauge'
  | 'bar-gauge'
  | 'mbar-gauge'
  | 'psi-gauge'
  | 'inHg-gauge'
  | 'inHg-vacuum'
  | '%'
  | 'fraction'
  | 'lambda'
  | 'afr'
  | 'phi'
  | 'degC'
  | 'degF'
  | 'K'
  | 'deg'
  | 'g/s'
  | 'kg/h'
  | 'lb/min'
  | 'lb/h'
  | 'cc/min'
  | 'mg'
  | 'km/h'
  | 'mph'
  | 'm/s'
  | 'V'
  | 'mV'
  | 'count'
  | 'flag'
  | 'code';

export interface Unit {
  readonly id: UnitId;
  /** As shown to a reader: `kPa gauge`, `AFR (E85)`. */
  readonly symbol: string;
  /** More than one where a unit serves two (V is a voltage and a signal). The first is the usual one. */
  readonly dimensions: readonly Dimension[];
  /** Value in the dimension's base unit = value × factor + offset. Absent for `phi` and `afr`, which are not linear or need a fuel. */
  readonly factor?: number;
  readonly offset?: number;
  /**
   * Pressure only: counted from the air around the car (`vacuum` downwards), or said to be `absolute` in so many words.
   * Undefined is a plain `kPa` or `psi`: absolute, but gauge for fuel and oil pressure, as those are always quoted.
   */
  readonly reference?: 'gauge' | 'vacuum' | 'absolute';
  /** AFR only: the fuel that the unit names (a blend as in `fuels.ts`); undefined is the gasoline scale. */
  readonly fuel?: string;
}

/** What a conversion needs beyond the value. The caller states both; nothing is assumed in here. */
export interface ConversionContext {
  /** Pressure of the air around the car, kPa absolute, for gauge readings. */
  readonly barometerKPa: number;
  /** Stoichiometric air-fuel ratio by mass of the scale that an `afr` value is read on. */
  readonly stoichAfr: number;
}

const PSI_KPA = 6.894757293168361; // lbf 4.4482216152605 N over (0.0254 m)², exact by definition
const INHG_KPA = 3.386389; // conventional, NIST SP 811 App. B
const MMHG_KPA = 0.1333224; // conventional, NIST SP 811 App. B
const LB_PER_MIN_G_PER_S = 453.59237 / 60; // exact by definition

const linear = (
  id: UnitId,
  symbol: string,
  dimension: Dimension | readonly Dimension[],
  factor = 1,
  offset = 0,
  reference?: Unit['reference'],
): Unit => ({
  id,
  symbol,
  dimensions: typeof dimension === 'string' ? [dimension] : dimension,
  factor,
  offset,
  ...(reference ? { reference } : {}),
});

/** Base units: s, rpm, kPa absolute (or gauge, for gauge quantities), %, lambda, °C, deg, g/s, mg, km/h, V. */
const ALL: readonly Unit[] = [
  linear('s', 's', 'time'),
  linear('ms', 'ms', 'time', 1e-3),
  linear('us', 'µs', 'time', 1e-6),
  linear('min', 'min', 'time', 60),
  linear('h', 'h', 'time', 3600),
  linear('d', 'd', 'time', 86400),
  linear('rpm', 'rpm', 'rotation'),
  linear('krpm', 'krpm', 'rotation', 1000),
  linear('Hz', 'Hz', ['rotation', 'signal'], 60),
  linear('kPa', 'kPa', 'pressure'),
  linear('Pa', 'Pa', 'pressure', 1e-3),
  linear('bar', 'bar', 'pressure', 100),
  linear('mbar', 'mbar', 'pressure', 0.1),
  linear('MPa', 'MPa', 'pressure', 1000),
  linear('psi', 'psi', 'pressure', PSI_KPA),
  linear('inHg', 'inHg', 'pressure', INHG_KPA),
  linear('mmHg', 'mmHg', 'pressure', MMHG_KPA),
  linear('kgf/cm2', 'kgf/cm²', 'pressure', 98.0665),
  linear('kPa-gauge', 'kPa gauge', 'pressure', 1, 0, 'gauge'),
  linear('bar-gauge', 'bar gauge', 'pressure', 100, 0, 'gauge'),
  linear('mbar-gauge', 'mbar gauge', 'pressure', 0.1, 0, 'gauge'),
  linear('psi-gauge', 'psi gauge', 'pressure', PSI_KPA, 0, 'gauge'),
  linear('inHg-gauge', 'inHg gauge', 'pressure', INHG_KPA, 0, 'gauge'),
  linear('inHg-vacuum', 'inHg vacuum', 'pressure', INHG_KPA, 0, 'vacuum'),
  linear('%', '%', 'ratio'),
  linear('fraction', 'fraction', 'ratio', 100),
  linear('lambda', 'λ', 'mixture'),
  { id: 'afr', symbol: 'AFR', dimensions: ['mixture'] },
  { id: 'phi', symbol: 'φ', dimensions: ['mixture'] },
  linear('degC', '°C', 'temperature'),
  linear('degF', '°F', 'temperature', 5 / 9, -160 / 9),
  linear('K', 'K', 'temperature', 1, -273.15),
  linear('deg', '°', 'angle'),
  linear('g/s', 'g/s', 'mass-flow'),
  linear('kg/h', 'kg/h', 'mass-flow', 1 / 3.6),
  linear('lb/min', 'lb/min', 'mass-flow', LB_PER_MIN_G_PER_S),
  linear('lb/h', 'lb/h', 'mass-flow', LB_PER_MIN_G_PER_S / 60),
  linear('cc/min', 'cc/min', 'volume-flow'),
  linear('mg', 'mg', 'mass'),
  linear('km/h', 'km/h', 'speed'),
  linear('mph', 'mph', 'speed', 1.609344),
  linear('m/s', 'm/s', 'speed', 3.6),
  linear('V', 'V', ['voltage', 'signal']),
  linear('mV', 'mV', ['voltage', 'signal'], 1e-3),
  linear('count', '', 'count'),
  linear('flag', '', 'flag'),
  linear('code', '', 'code'),
];

/** Every unit by its id. `afr` here is the gasoline scale; `parseUnit` gives it a fuel. */
export const UNITS = Object.fromEntries(ALL.map((unit) => [unit.id, unit])) as Readonly<Record<UnitId, Unit>>;
