// From a column's name to what it measures: plain English, the trade's usual abbreviations, and the names of SAE J1979 and J1930.

import type { QuantityId } from '../../quantities/quantity.js';
import { recogniseForeign } from './foreignNames.js';
import type { Channel } from './session.js';
import { parseUnit } from '../../quantities/parseUnit.js';
import { UNITS, type Unit } from '../../quantities/units.js';

// Phrases are compared as sets of words after `wordsOf`, so order, case, joining signs, abbreviations and the NOISE words do not matter.
// prettier-ignore
const PHRASES: Readonly<Partial<Record<QuantityId, readonly string[]>>> = {
  time: ['time', 'timestamp', 'time stamp', 'elapsed time', 'elapsed', 'log time', 'logger time', 'session time', 'recording time',
    'seconds', 'milliseconds',
    'elapsed seconds', 'elapsed milliseconds', 'time seconds', 'time milliseconds', 't', 'run time', 'runtime', 'engine run time',
    'engine runtime', 'time since engine start', 'run time since engine start',
    'time since start', 'relative time', 'absolute time', 'time offset', 'date time', 'datetime', 'date and time', 'utc time', 'utc',
    'gps time', 'local time', 'clock', 'system time',
    'device time', 'sample time', 'epoch', 'epoch time', 'unix time', 'time of day', 'uptime'],
  'engine-speed': ['engine speed', 'rpm', 'engine rpm', 'revs', 'engine revs', 'engine revolutions', 'crank speed', 'crankshaft speed',
    'motor speed', 'motor rpm', 'crank rpm'],
  'manifold-pressure': ['map', 'manifold pressure', 'manifold air pressure', 'intake manifold pressure', 'inlet manifold pressure',
    'intake pressure', 'inlet pressure', 'boost', 'boost pressure',
    'turbo boost', 'turbo boost pressure', 'charge pressure', 'charge air pressure', 'manifold vacuum', 'manifold', 'intake air pressure',
    'plenum pressure', 'map pressure', 'boost map', 'intake manifold', 'manifold boost', 'manifold boost pressure', 'engine vacuum'],
  'barometric-pressure': ['barometric pressure', 'barometer', 'atmospheric pressure', 'ambient pressure', 'ambient air pressure',
    'air pressure ambient', 'barometric'],
  throttle: ['throttle', 'throttle position', 'throttle angle', 'throttle opening', 'relative throttle', 'relative throttle position',
    'throttle plate position', 'throttle valve position', 'throttle plate', 'throttle body position', 'throttle blade position'],
  pedal: ['pedal', 'pedal position', 'accelerator', 'accelerator pedal', 'accelerator position', 'accelerator pedal position', 'gas pedal',
    'gas pedal position', 'throttle pedal', 'throttle pedal position',
    'pedal d', 'pedal e', 'accelerator pedal position d', 'accelerator pedal position e', 'pedal position d', 'pedal position e',
    'relative accelerator pedal position', 'relative pedal position', 'driver pedal'],
  lambda: ['lambda', 'afr', 'phi', 'wideband', 'wideband lambda', 'wideband afr', 'wideband o2', 'o2 wideband lambda', 'o2 wideband afr',
    'equivalence ratio', 'fuel air equivalence ratio', 'o2 lambda', 'o2 afr', 'uego', 'uego lambda', 'uego afr',
    'exhaust lambda', 'exhaust afr', 'o2 equivalence ratio', 'o2 fuel air equivalence ratio', 'o2 wideband equivalence ratio',
    'o2 wideband fuel air equivalence ratio', 'lambda afr', 'engine lambda', 'engine afr', 'o2 wideband equivalence ratio lambda',
    'wideband equivalence ratio'],
  'target-lambda': ['target lambda', 'target afr', 'target phi', 'target equivalence ratio', 'fuel air target equivalence ratio',
    'target lambda afr', 'target fuel air ratio', 'target mixture'],
  'short-term-fuel-trim': ['short term fuel trim', 'short fuel trim', 'short term trim', 'short trim'],
  'long-term-fuel-trim': ['long term fuel trim', 'long fuel trim', 'long term trim', 'long trim'],
  'intake-air-temperature': ['intake air temperature', 'intake temperature', 'inlet air temperature', 'inlet temperature',
    'air temperature', 'charge air temperature', 'charge temperature', 'air charge temperature', 'intake charge temperature',
    'manifold air temperature', 'manifold temperature', 'intake manifold temperature', 'intake manifold air temperature',
    'air inlet temperature'],
  'coolant-temperature': ['coolant temperature', 'engine coolant temperature', 'coolant', 'engine coolant', 'water temperature',
    'engine water temperature', 'engine temperature', 'cylinder head temperature'],
  'oil-temperature': ['oil temperature', 'engine oil temperature'],
  'exhaust-gas-temperature': ['exhaust gas temperature', 'exhaust temperature', 'turbine inlet temperature', 'exhaust gas'],
  'fuel-pressure': ['fuel pressure', 'fuel rail pressure', 'rail pressure', 'fuel line pressure', 'fuel pump pressure', 'fuel rail'],
  'oil-pressure': ['oil pressure', 'engine oil pressure'],
  'ignition-advance': ['ignition advance', 'ignition timing', 'ignition timing advance', 'timing advance', 'spark advance', 'spark timing',
    'spark timing advance', 'ignition angle', 'spark angle', 'timing', 'advance', 'spark', 'total timing', 'total ignition timing',
    'total spark advance', 'final timing', 'final ignition timing', 'final spark advance', 'engine timing', 'ignition spark advance',
    'total timing advance', 'ignition advance angle'],
  'knock-retard': ['knock retard', 'knock retard total', 'total knock retard', 'spark retard', 'knock spark retard', 'ignition retard',
    'timing retard', 'knock timing retard', 'knock ignition retard', 'knock control retard', 'knock retardation'],
  'injector-pulse-width': ['injector pulse width', 'injection pulse width', 'pulse width', 'fuel pulse width', 'injection time',
    'injection duration', 'injector on time', 'injector open time', 'injector opening time', 'injector time', 'injector duration',
    'fuel injector pulse width', 'final pulse width', 'injector pulse', 'effective pulse width', 'injector pulse width total',
    'injector pulse duration'],
  'injector-duty': ['injector duty', 'injector duty cycle', 'fuel injector duty cycle', 'fuel injector duty', 'injection duty cycle',
    'injection duty', 'secondary injector duty'],
  'mass-air-flow': ['mass air flow', 'air flow', 'air mass', 'air mass flow', 'mass air flow rate', 'air flow rate',
    'air flow rate from mass air flow', 'intake air mass flow', 'mass air flow air flow rate', 'intake air flow', 'engine air flow',
    'engine air mass flow', 'mass flow', 'mass air'],
  'mass-air-flow-signal': ['mass air flow voltage', 'mass air flow frequency', 'mass air flow signal', 'air flow voltage',
    'air flow frequency', 'air flow meter voltage', 'air flow meter signal', 'mass air flow meter voltage', 'mass air flow output voltage'],
  'vehicle-speed': ['vehicle speed', 'speed', 'road speed', 'ground speed', 'gps speed', 'car speed', 'speed over ground', 'wheel speed',
    'vehicle', 'mph', 'kph'],
  'battery-voltage': ['battery voltage', 'battery', 'control module voltage', 'module voltage', 'system voltage', 'supply voltage',
    'charging voltage', 'ecu voltage', 'ecm voltage', 'ignition voltage', 'voltage', 'battery voltage ecu', 'control module power supply'],
  'ethanol-content': ['ethanol content', 'ethanol', 'ethanol percent', 'ethanol percentage', 'ethanol fuel', 'ethanol fuel percent',
    'ethanol fuel percentage', 'flex fuel', 'flex fuel content', 'flex content', 'flex fuel percent', 'flex fuel percentage',
    'fuel ethanol content',
    'flex fuel ethanol content', 'flex fuel ethanol', 'alcohol content', 'alcohol fuel percentage', 'alcohol percentage',
    'fuel composition', 'fuel ethanol'],
  'engine-load': ['engine load', 'calculated load', 'calculated engine load', 'load', 'calculated load value', 'absolute load value',
    'load percent'],
  gear: ['gear', 'gear position', 'selected gear', 'transmission gear', 'gear engaged', 'engaged gear', 'gear number',
    'transmission gear position'],
  'fuel-cut': ['fuel cut', 'fuel cutoff', 'fuel cut off', 'overrun', 'overrun fuel cut', 'overrun fuel cutoff', 'overrun cut',
    'decel fuel cut', 'decel fuel cutoff', 'decel fuel cut off', 'injector cut', 'injection cut', 'overrun fuel cut off', 'decel cut'],
  'trouble-code': ['trouble code', 'diagnostic trouble code', 'fault code', 'stored trouble code', 'pending trouble code', 'dtc',
    'stored dtc', 'pending dtc', 'stored fault code', 'active trouble code', 'active dtc', 'active fault code', 'confirmed dtc'],
};

/** For the page of names: as they are listed, any order and the usual abbreviations beside. */
export const englishNames = (quantity: QuantityId): readonly string[] => PHRASES[quantity] ?? [];

/** Words that say nothing about what is measured. */
const NOISE = new Set([
  'value',
  'actual',
  'measured',
  'current',
  'reading',
  'sae',
  'obd',
  'obdii',
  'pid',
  'live',
  'data',
  'channel',
  'ch',
  'sensor',
  'the',
  'of',
  'for',
  'a',
  'in',
  'at',
  'filtered',
  'smoothed',
  'average',
  'avg',
  'mean',
  'main',
  'primary',
  'absolute',
  'gauge',
  'abs',
  'btdc',
  'before',
  'tdc',
  'cylinder',
  'status',
  'flag',
  'state',
  'calc',
  'percent',
  'pct',
  'front',
  'upstream',
  'pre',
  'cat',
  'inst',
  'instantaneous',
  'no',
  'number',
  'scale',
  'active',
]);

const ABBREVIATIONS: ReadonlyMap<string, string> = new Map(
  Object.entries({
    temp: 'temperature',
    temperatur: 'temperature',
    tmp: 'temperature',
    press: 'pressure',
    pres: 'pressure',
    prs: 'pressure',
    pos: 'position',
    posn: 'position',
    adv: 'advance',
    ign: 'ignition',
    inj: 'injector',
    injectors: 'injector',
    injection: 'injection',
    eng: 'engine',
    veh: 'vehicle',
    vel: 'speed',
    spd: 'speed',
    velocity: 'speed',
    mfld: 'manifold',
    man: 'manifold',
    accel: 'accelerator',
    acc: 'accelerator',
    thr: 'throttle',
    thrtl: 'throttle',
    throt: 'throttle',
    tps: 'throttle position',
    tp: 'throttle position',
    app: 'accelerator pedal position',
    ect: 'coolant temperature',
    clt: 'coolant temperature',
    cts: 'coolant temperature',
    iat: 'intake air temperature',
    act: 'intake air temperature',
    mat: 'intake air temperature',
    egt: 'exhaust gas temperature',
    eot: 'oil temperature',
    maf: 'mass air flow',
    airflow: 'air flow',
    massflow: 'mass flow',
    baro: 'barometric pressure',
    bap: 'barometric pressure',
    bp: 'barometric pressure',
    vss: 'vehicle speed',
    stft: 'short term fuel trim',
    ltft: 'long term fuel trim',
    shrtft: 'short term fuel trim',
    longft: 'long term fuel trim',
    shortterm: 'short term',
    longterm: 'long term',
    st: 'short term',
    lt: 'long term',
    ft: 'fuel trim',
    trims: 'trim',
    lam: 'lambda',
    λ: 'lambda',
    φ: 'phi',
    wb: 'wideband',
    wbo: 'wideband',
    oxygen: 'o2',
    wide: 'wideband',
    equiv: 'equivalence',
    eq: 'equivalence',
    eqv: 'equivalence',
    commanded: 'target',
    command: 'target',
    cmd: 'target',
    cmded: 'target',
    desired: 'target',
    des: 'target',
    requested: 'target',
    request: 'target',
    req: 'target',
    setpoint: 'target',
    demand: 'target',
    demanded: 'target',
    tgt: 'target',
    trg: 'target',
    goal: 'target',
    targ: 'target',
    pw: 'pulse width',
    pulsewidth: 'pulse width',
    ipw: 'injector pulse width',
    idc: 'injector duty',
    dc: 'duty',
    cycle: '',
    dutycycle: 'duty',
    kr: 'knock retard',
    knk: 'knock',
    frp: 'fuel rail pressure',
    fp: 'fuel pressure',
    batt: 'battery',
    bat: 'battery',
    vbat: 'battery voltage',
    vbatt: 'battery voltage',
    volts: 'voltage',
    volt: 'voltage',
    freq: 'frequency',
    eth: 'ethanol',
    dfco: 'decel fuel cut',
    deceleration: 'decel',
    cutoff: 'cut',
    off: '',
    dtcs: 'dtc',
    faults: 'fault',
    kmh: 'kph',
    revolutions: 'revs',
    secs: 'seconds',
    sec: 'seconds',
    second: 'seconds',
    ms: 'milliseconds',
    msec: 'milliseconds',
    millis: 'milliseconds',
    millisecond: 'milliseconds',
    petrol: 'gasoline',
    cyl: 'cylinder',
    calculated: 'calculated',
    clv: 'calculated load',
    barometer: 'barometric pressure',
    charge: 'charge',
    coolent: 'coolant',
    hz: 'frequency',
    atm: 'atmospheric',
    amb: 'ambient',
    accelarator: 'accelerator',
    pressures: 'pressure',
    temperatures: 'temperature',
    timestamp: 'time stamp',
    retardation: 'retard',
    code: 'code',
    codes: 'code',
  }),
);

/** Whose gauge it is, and by which way it comes, says nothing of what it measures: it is another one of the same exhaust. */
const GAUGE_OWNER = new Set([
  'analog',
  'analogue',
  'digital',
  'serial',
  'can',
  'canbus',
  'shop',
  'workshop',
  'external',
  'ext',
  'extern',
  'aftermarket',
]);

const FUEL_WORD = /^(?:e\d{1,3}|gasoline|methanol|ethanol|diesel|isooctane|propane|lpg|cng)$/;

interface Words {
  readonly words: readonly string[];
  readonly bank: number | undefined;
  readonly sensor: number | undefined;
  readonly number: number | undefined;
  /** Behind the catalyst. */
  readonly rear: boolean;
  /** Fuel that an air-fuel ratio is scaled for. */
  readonly fuel: string | undefined;
}

const REAR = new Set(['rear', 'downstream', 'post']);

const wordsOf = (name: string): Words => {
  let bank: number | undefined;
  let sensor: number | undefined;
  let number: number | undefined;
  let fuel: string | undefined;
  let rear = false;
  let spaced = name
    .slice(0, 120)
    .replace(/air[\s_/:.-]*fuel[\s_-]*(?:ratio|(?=\W*$))|a\s*\/\s*f(?:\s*ratio)?\b/gi, ' afr ')
    .replace(/([a-z])([A-Z])/g, '$1 $2')
    .replace(/([A-Z]{2,})([A-Z][a-z]{2,})/g, '$1 $2')
    .toLowerCase()
    .replace(/wide[\s_-]*(?:range|band)/g, ' wideband ');
  // Most names have no number: neither oxygen in them, nor a bank.
  if (/\d/.test(spaced))
    spaced = spaced
      .replace(/\bo2s?(?=[\s_\-.]|b\d|\d|$)/g, ' o2 ')
      .replace(/\bo2sensor/g, ' o2 ')
      .replace(/\bwbo2/g, ' wideband o2 ')
      .replace(/b(?:ank)?[\s_-]*(\d)[\s_,-]*s(?:ensor)?[\s_-]*(\d)/g, (_, b: string, s: string) => {
        bank = Number(b);
        sensor = Number(s);
        return ' ';
      })
      .replace(/(?:^|[^a-z])b(?:ank)?[\s_\-#]*(\d)(?!\d)|bank[\s_\-#]*(\d)/g, (_, b: string | undefined, c: string | undefined) => {
        bank = Number(b ?? c);
        return ' ';
      })
      .replace(/(?:sensor|(?:^|[^a-z])s)[\s_\-#]*(\d)(?!\d)/g, (_, s: string) => {
        number = Number(s);
        return ' ';
      });
  const words: string[] = [];
  for (const raw of spaced.split(/[^a-z0-9λφ%]+/)) {
    if (raw === '') continue;
    if (FUEL_WORD.test(raw)) {
      fuel = raw;
      words.push(raw);
      continue;
    }
    for (const part of raw === 'o2' ? ['o2'] : (raw.match(/[a-zλφ]+|\d+|%/g) ?? [])) {
      if (/^\d+$/.test(part)) {
        number ??= Number(part);
        continue;
      }
      if (part === '%') continue;
      if (REAR.has(part)) {
        rear = true;
        continue;
      }
      words.push(...(ABBREVIATIONS.get(part) ?? part).split(' '));
    }
  }
  return { words: words.filter((word) => word !== '' && !NOISE.has(word)), bank, sensor, number, rear, fuel };
};

const keyOf = (words: readonly string[]): string => [...new Set(words)].sort().join(' ');

const BY_KEY = new Map<string, QuantityId>();
const VOCABULARY = new Set<string>();
for (const [quantity, phrases] of Object.entries(PHRASES) as [QuantityId, readonly string[]][]) {
  for (const phrase of phrases) {
    const { words } = wordsOf(phrase);
    if (words.length > 0 && !BY_KEY.has(keyOf(words))) BY_KEY.set(keyOf(words), quantity);
    for (const word of words) VOCABULARY.add(word);
  }
}

/** Words of the trade that are near to one of ours and mean something else. */
const OTHER_WORDS = new Set([
  'rear',
  'year',
  'tire',
  'tyre',
  'line',
  'mile',
  'miles',
  'tank',
  'level',
  'trip',
  'mode',
  'rate',
  'catalyst',
  'torque',
  'power',
  'lamp',
  'count',
  'distance',
  'range',
  'brake',
  'clutch',
  'steering',
  'ambient',
  'transmission',
  'vapor',
  'vapour',
  'purge',
  'idle',
  'error',
  'raw',
  'cold',
  'side',
  'limit',
]);

const LONGEST_FUZZY_WORD = 24;

/** Edits (insert, drop, change, swap of neighbours) from one word to another: optimal string alignment. */
const distance = (a: string, b: string): number => {
  const rows = [Array.from({ length: b.length + 1 }, (_, index) => index)];
  for (let i = 1; i <= a.length; i++) {
    const row = [i];
    for (let j = 1; j <= b.length; j++) {
      row[j] = Math.min(rows[i - 1][j] + 1, row[j - 1] + 1, rows[i - 1][j - 1] + (a[i - 1] === b[j - 1] ? 0 : 1));
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) row[j] = Math.min(row[j], rows[i - 2][j - 2] + 1);
    }
    rows.push(row);
  }
  return rows[a.length][b.length];
};

/** The nearest word of ours: one edit away, two in a long word. A name of a single word must be long to be guessed at. */
const nearest = (word: string, alone: boolean): string | undefined => {
  if (VOCABULARY.has(word) || OTHER_WORDS.has(word) || word.length < (alone ? 5 : 4) || word.length > LONGEST_FUZZY_WORD) return undefined;
  let best: string | undefined;
  let bestDistance = word.length >= 8 ? 3 : 2;
  for (const known of VOCABULARY) {
    if (known.length < (alone ? 6 : 4) || Math.abs(known.length - word.length) > 2) continue;
    const edits = distance(word, known);
    if (edits < bestDistance) {
      best = known;
      bestDistance = edits;
    }
  }
  return best;
};

const SECOND_BANK: Readonly<Partial<Record<QuantityId, QuantityId>>> = {
  lambda: 'lambda-2',
  'short-term-fuel-trim': 'short-term-fuel-trim-2',
  'long-term-fuel-trim': 'long-term-fuel-trim-2',
};

/** A number past the second bank's is a cylinder's; an oxygen sensor's counts those behind the catalyst too. */
const isPastBanks = ({ words, bank, number }: Words): boolean =>
  bank === undefined && number !== undefined && number > 2 && number <= 12 && !words.includes('o2');

/**
 * Whether a column is the lambda of one cylinder, by its name alone: `Lambda 3`, `AFR Cyl 4`. The first two are read as two banks are; 4.9
 * is a sensor's type.
 */
export const isOfCylinder = ({ quantity, quantityFrom, name }: Pick<Channel, 'quantity' | 'quantityFrom' | 'name'>): boolean =>
  quantity === 'lambda' && quantityFrom === 'name' && !/\d[.,]\d/.test(name) && isPastBanks(wordsOf(name));

/** The quantity on its bank; undefined for a sensor behind the catalyst and for banks past two. */
const onBank = (quantity: QuantityId, found: Words): QuantityId | undefined => {
  const second = SECOND_BANK[quantity];
  if (second === undefined) return quantity;
  const sensor = found.sensor ?? (found.bank === undefined ? undefined : found.number);
  if (quantity === 'lambda' && (found.rear || (sensor !== undefined && sensor > 1))) return undefined;
  const bank = found.bank ?? found.number ?? 1;
  return bank === 2 ? second : bank <= 1 || (quantity === 'lambda' && isPastBanks(found)) ? quantity : undefined;
};

/** `Active Map`, `Map No`: which of several maps the computer uses, unless a unit says that it is the pressure. */
const ONE_OF_SEVERAL = /active|current|number|state|status|\bno\b/i;

/**
 * What a column of this name measures, unit left out of the name. `guess` where a word had to be taken for a near one (`TINE` for time);
 * undefined where the name says nothing that the product knows. Names: plain English, SAE J1979 and J1930, common practice.
 */
export const recognise = (name: string): { readonly quantity: QuantityId; readonly from: 'name' | 'guess' } | undefined => {
  const found = wordsOf(name);
  const mixture = ['afr', 'lambda', 'wideband'].some((word) => found.words.includes(word));
  const words = mixture ? found.words.filter((word) => !FUEL_WORD.test(word) && !GAUGE_OWNER.has(word)) : found.words;
  const exact = words.length === 0 ? undefined : BY_KEY.get(keyOf(words));
  const foreign = exact ? undefined : recogniseForeign(name),
    foreignQuantity = foreign && onBank(foreign.quantity, { ...found, bank: found.bank ?? foreign.bank });
  if (foreign && foreignQuantity) return { quantity: foreignQuantity, from: foreign.from };
  if (words.length === 0 || (keyOf(words) === 'map' && ONE_OF_SEVERAL.test(name))) return undefined;
  const near = exact ?? BY_KEY.get(keyOf(words.map((word) => nearest(word, words.length === 1) ?? word)));
  const quantity = near && onBank(near, found);
  return quantity && { quantity, from: exact ? 'name' : 'guess' };
};

/** Names that mean a degree of knock retard, an engine speed … only when their unit says so. */
export const recogniseByUnit = (name: string, unit: Unit): QuantityId | undefined => {
  const key = keyOf(wordsOf(name).words);
  const is = (dimension: Unit['dimensions'][number]): boolean => unit.dimensions.includes(dimension);
  if (key === 'speed' && is('rotation')) return 'engine-speed';
  if ((key === 'knock' || key === 'retard' || key === 'correction knock') && is('angle')) return 'knock-retard';
  if ((key === 'duty' || key === 'injector') && is('ratio')) return 'injector-duty';
  if (key === 'map' && is('pressure')) return 'manifold-pressure';
  if (key === 'injector' && is('time')) return 'injector-pulse-width';
  if (key === 'ignition' && is('angle')) return 'ignition-advance';
  if (BY_KEY.get(key) === 'mass-air-flow' && is('signal')) return 'mass-air-flow-signal';
  if (key === 'oil' || key === 'fuel')
    return is('pressure') ? `${key}-pressure` : is('temperature') && key === 'oil' ? 'oil-temperature' : undefined;
  if (key === 'manifold' && is('temperature')) return 'intake-air-temperature';
  return undefined;
};

/**
 * The unit that a name says by itself (`AFR E85`, `Engine RPM`, `Battery voltage`). An equivalence ratio is φ by the word's meaning, but λ
 * where
 * SAE J1979 uses it (commanded, or of an oxygen sensor).
 */
export const impliedUnit = (name: string, quantity: QuantityId): Unit | undefined => {
  const { words, fuel } = wordsOf(name);
  const has = (word: string): boolean => words.includes(word);
  switch (quantity) {
    case 'lambda':
    case 'lambda-2':
    case 'target-lambda':
      if (has('afr')) return parseUnit(fuel ? `AFR ${fuel}` : 'AFR', quantity);
      if (has('lambda')) return UNITS.lambda;
      // A French richness is the same ratio.
      if (has('phi') || has('richesse')) return UNITS.phi;
      if (has('equivalence')) return has('target') || has('o2') ? UNITS.lambda : UNITS.phi;
      return undefined;
    case 'time':
      return has('milliseconds') ? UNITS.ms : has('seconds') ? UNITS.s : undefined;
    case 'engine-speed':
      return has('rpm') || has('revs') ? UNITS.rpm : undefined;
    case 'vehicle-speed':
      return has('mph') ? UNITS.mph : has('kph') ? UNITS['km/h'] : undefined;
    case 'battery-voltage':
      return has('voltage') ? UNITS.V : undefined;
    case 'mass-air-flow-signal':
      return has('frequency') ? UNITS.Hz : has('voltage') ? UNITS.V : undefined;
    case 'gear':
      return UNITS.count;
    case 'fuel-cut':
      return UNITS.flag;
    case 'trouble-code':
      return UNITS.code;
    default:
      return undefined;
  }
};

/** What a name says of what a pressure is counted from. */
export const impliedReference = (name: string): Unit['reference'] => {
  const text = ` ${name
    .replace(/([a-z])([A-Z])/g, '$1 $2')
    .toLowerCase()
    .replace(/[^a-z]+/g, ' ')} `;
  if (/ (?:abs|absolute) /.test(text)) return 'absolute';
  if (/ (?:vacuum|vac) /.test(text)) return 'vacuum';
  return / (?:boost|gauge|gage) /.test(text) ? 'gauge' : undefined;
};

/** How well a name suits the clock of a whole session: 0 a plain time, 1 the run time of the engine, 2 a guess. */
export const timeRank = (name: string, from: 'name' | 'guess'): number =>
  from === 'guess' ? 2 : wordsOf(name).words.some((word) => word === 'run' || word === 'engine' || word === 'runtime') ? 1 : 0;
