// From the unit as loggers and people spell it to the unit itself.

import { fuelOf } from './fuels.js';
import { QUANTITIES, type QuantityId } from './quantity.js';
import { UNITS, type Dimension, type Unit, type UnitId } from './units.js';

// Keys as `normalise` leaves them: lower case, no blanks, dots, hyphens or underscores.
const SPELLINGS: Readonly<Partial<Record<UnitId, string>>> = {
  s: 's sec secs second seconds',
  ms: 'ms msec msecs millisec millisecond milliseconds',
  us: 'us μs usec μsec microsecond microseconds',
  min: 'min mins minute minutes',
  h: 'h hr hrs hour hours',
  d: 'd day days',
  rpm: 'rpm r/min 1/min tr/min giri/min varv/min min1 min^1 /min u/min rev/min revs/min revs revolutions/min revolutionsperminute',
  krpm: 'krpm rpmx1000 x1000rpm rpm*1000 1000rpm 1000/min x1000/min',
  Hz: 'hz hertz rps rev/s 1/s',
  '%': '% percent pct prct vol% %vol',
  fraction: 'fraction frac 01 0to1',
  lambda: 'lambda λ lam',
  phi: 'phi φ ϕ',
  degC: '°c c degc degsc degreec degreesc celsius centigrade degcelsius degreescelsius °celsius',
  degF: '°f f degf degsf degreef degreesf fahrenheit degfahrenheit degreesfahrenheit °fahrenheit',
  K: 'k kelvin °k degk',
  deg: 'deg degs degree degrees ° °btdc degbtdc degreesbtdc btdc °ca degca °crank degcrank crankdegrees crankdeg °kw °beforetdc',
  'g/s': 'g/s gps g/sec gs1 gram/s grams/s gram/sec grams/sec gramspersecond gpersec gm/s gm/sec',
  'kg/h': 'kg/h kg/hr kgh kghr kgph kg/hour kgperhour',
  'lb/min': 'lb/min lbs/min lbmin lbsmin lb/minute lbs/minute lbperminute poundsperminute',
  'lb/h': 'lb/h lbs/h lb/hr lbs/hr lbhr pph lb/hour lbs/hour',
  'cc/min': 'cc/min ccmin ccm cc/minute ccpermin ccperminute cm3/min cm^3/min ml/min ml/minute',
  mg: 'mg mg/stroke mg/stk mg/str mg/cyl mg/cycle mg/inj mg/injection milligram milligrams',
  'km/h': 'km/h kmh kph kmph km/hr kmhr km/hour',
  mph: 'mph mi/h mi/hr miles/h miles/hr miles/hour milesperhour',
  'm/s': 'm/s m/sec mps meterspersecond',
  V: 'v volt volts vdc',
  mV: 'mv millivolt millivolts',
  count: 'count gear # number',
  flag: 'flag bool boolean on/off 0/1 yes/no',
  code: 'code dtc',
};

const BY_SPELLING = new Map(
  Object.entries(SPELLINGS).flatMap(([id, texts]) => texts.split(' ').map((text) => [text, UNITS[id as UnitId]] as const)),
);

const PRESSURES: ReadonlyMap<string, UnitId> = new Map(
  Object.entries<UnitId>({
    kpa: 'kPa',
    kilopascal: 'kPa',
    kilopascals: 'kPa',
    pa: 'Pa',
    pascal: 'Pa',
    pascals: 'Pa',
    mpa: 'MPa',
    megapascal: 'MPa',
    bar: 'bar',
    bars: 'bar',
    mbar: 'mbar',
    mbars: 'mbar',
    millibar: 'mbar',
    millibars: 'mbar',
    hpa: 'mbar',
    hectopascal: 'mbar',
    psi: 'psi',
    'lb/in2': 'psi',
    'lbs/in2': 'psi',
    'lbf/in2': 'psi',
    'lb/in^2': 'psi',
    'lbf/in^2': 'psi',
    inhg: 'inHg',
    '"hg': 'inHg',
    incheshg: 'inHg',
    inchhg: 'inHg',
    inchesofmercury: 'inHg',
    inofhg: 'inHg',
    mmhg: 'mmHg',
    torr: 'mmHg',
    'kgf/cm2': 'kgf/cm2',
    'kg/cm2': 'kgf/cm2',
    'kgf/cm^2': 'kgf/cm2',
    'kg/cm^2': 'kgf/cm2',
  }),
);

/** Lower case, one sign for each thing that has several, no blanks: what the tables above are keyed by. */
const normalise = (text: string): string =>
  text
    .replace(/Â(?=[°µ])/g, '') // UTF-8 once read as Windows-1252
    .replace(/Î»/g, 'λ')
    .replace(/[º˚]/g, '°')
    .normalize('NFKC')
    .toLowerCase()
    .replace(/µ/g, 'μ')
    .replace(/[\u2033\u201d]/g, '"')
    .replace(/[\u2212\u2010-\u2015]/g, '-')
    .replace(/[\s._-]+/g, '');

/** `kpa(a)`, `psig`, `boostpsi`, `inhgvacuum` …: a pressure and what it is counted from. */
const parsePressure = (key: string): Unit | undefined => {
  let reference: Unit['reference'];
  let base = key
    .replace(/\(?(absolute|abs|gauge|gage|boost|relative|rel|vacuum|vac)\)?/, (_, word: string) => {
      reference = word.startsWith('abs') ? 'absolute' : word.startsWith('vac') ? 'vacuum' : 'gauge';
      return '';
    })
    .replace(/[()[\]]/g, '');
  if (reference === undefined && !PRESSURES.has(base) && /[ag]$/.test(base)) {
    reference = base.endsWith('a') ? 'absolute' : 'gauge';
    base = base.slice(0, -1);
  }
  const id = PRESSURES.get(base);
  if (id === undefined) return undefined;
  if (reference === undefined) return UNITS[id];
  const known = (UNITS as Readonly<Record<string, Unit | undefined>>)[`${id}-${reference}`];
  return known ?? { ...UNITS[id], symbol: `${UNITS[id].symbol} ${reference}`, reference };
};

/** `afr`, `afr(e85)`, `e85afr`, `a/fgasoline` …: an air-fuel ratio and whose scale it is on. */
const parseAfr = (key: string): Unit | undefined => {
  const match = /^(.*?)(?:air\/?:?fuelratio|air\/fuel|airfuel|afr|a\/f|a:f)(.*)$/.exec(key);
  if (!match) return undefined;
  const rest = `${match[1]}${match[2]}`.replace(/[()[\],:]/g, '').replace(/scale|ratio/g, '');
  if (rest === '' || rest === '1') return UNITS.afr;
  const fuel = rest === '147' ? 'gasoline' : fuelOf(rest)?.name;
  return fuel === undefined ? undefined : { ...UNITS.afr, symbol: `AFR (${fuel})`, fuel };
};

const parseAny = (key: string): Unit | undefined => BY_SPELLING.get(key) ?? parsePressure(key) ?? parseAfr(key);

const parseOf = (text: string, dimension: Dimension | undefined): Unit | undefined => {
  if (text.length > 60) return undefined;
  let key = normalise(text);
  if (/^\(.*\)$|^\[.*\]$/.test(key)) key = key.slice(1, -1);
  // A degree sign lost to a wrong encoding: only where a temperature or an angle is expected.
  if (dimension === 'temperature') key = key.replace(/^[\ufffd?*](?=[cf]$)/, '°');
  if (dimension === 'angle') key = key.replace(/^[\ufffd?]/, '°');
  const unit =
    parseAny(key) ??
    (dimension !== 'ratio'
      ? undefined
      : key.startsWith('%')
        ? UNITS['%']
        : /^(?:multiplier|factor)$/.test(key)
          ? UNITS.fraction
          : undefined);
  return unit === undefined || dimension === undefined || unit.dimensions.includes(dimension) ? unit : undefined;
};

/**
 * The unit that a text spells (`kPa abs`, `psig`, `°C`, `1/min`, `AFR E85`); case, blanks, dots and hyphens do not matter.
 * With a quantity, only units that it can be measured in: `V` for `lambda` is undefined, as is `boost` alone, whose scale nobody knows.
 * Ask again without the quantity to tell a wrong unit from one that is not known at all.
 */
export const parseUnit = (text: string, quantity?: QuantityId): Unit | undefined =>
  parseOf(text, quantity === undefined ? undefined : QUANTITIES[quantity].dimension);

/** As `parseUnit`, for values that are not a log's quantity (the cells of a table). */
export const parseUnitOf = (text: string, dimension: Dimension): Unit | undefined => parseOf(text, dimension);
