// How the verdict speaks of each kind of finding, and what comes first where it is there.

import type { Finding, FindingCode } from '../findings/finding.js';
import type { CommonCause } from '../fueling/doubts/commonCause.js';
import { codesWhere } from '../findings/registry.js';

/** What the engine suffers from. */
export const ENGINE = codesWhere(({ concerns }) => concerns === 'engine');
/** What its readings suffer from. */
export const READINGS = codesWhere(({ concerns }) => concerns === 'readings');

const WORDS: Readonly<Record<FindingCode, string>> = {
  'lean-under-load': 'the engine got too little fuel under load',
  'cell-lean': 'cells of the fuel table give too little fuel',
  knock: 'the engine knocked',
  'injector-duty-high': 'the injectors ran out of room',
  'fuel-pressure-drop': 'fuel pressure fell',
  'intake-air-hot': 'the intake air was too hot',
  'coolant-hot': 'the engine ran too hot',
  'misfire-suspected': 'a cylinder seems to miss (plug, coil or injector)',
  'rich-under-load': 'far too much fuel was given under load',
  'cell-rich': 'cells of the fuel table give far too much fuel',
  'trouble-code': 'the engine computer holds a serious trouble code',
  'target-unsafe': 'the mixture that is aimed at under load is itself too lean',
  'sensor-dropout': 'a sensor lost contact',
  'channel-clipped': 'a sensor was at its end stop',
  'channel-stuck': 'a reading was stuck',
  'value-implausible': 'a reading is not plausible',
  'sensor-cold': 'the mixture sensor was still cold',
  'sensor-mount': 'the mixture sensor sits where it cannot see what the engine burns',
  'afr-scale-mismatch': "the mixture seems to be shown on the wrong fuel's scale",
  'time-gap': 'the log has gaps',
  'time-reversed': 'the clock stepped back',
  'time-repeated': 'the clock repeats itself',
  'unit-unknown': 'a unit was not stated',
  'channel-missing': 'a channel is missing or guessed',
  'value-not-a-number': 'a cell holds no number',
  'row-ragged': 'rows do not fit their header',
  'header-duplicate': 'two columns have one name',
  'axis-not-monotonic': "a table's axis is out of order",
  'cell-rough': 'the fuel table is rough',
  'cell-unproven': 'cells of the fuel table are not proven',
  'vehicle-invalid': 'vehicle.json has a mistake',
  'file-missing': 'a file is missing',
};

/** Under load a sensor was where it shows no more how lean it is, or how much boost there is. */
const hides = ({ code, severity }: Finding): boolean => severity === 'error' && (code === 'channel-clipped' || code === 'sensor-dropout');

/** A cylinder that seems to miss: what its bank reads is no word of the mixture. */
export const isMiss = ({ code }: Finding): boolean => code === 'misfire-suspected';

/** More boost than its owner lets the engine see. */
export const isOverboost = ({ code, data }: Finding): boolean => code === 'value-implausible' && data?.kind === 'over-limit';

/** Oil pressure that falls away at speed: the engine dies of it, whatever it burns. */
export const isOilFall = ({ code, data }: Finding): boolean => code === 'value-implausible' && data?.kind === 'oil-fall';
const OIL_FIRST = 'oil pressure holds (level and pickup, then its sensor)';

/** Banks that contradict each other: the verdict has a sentence of its own for it. */
export const isApart = ({ code, data }: Finding): boolean => code === 'value-implausible' && data?.kind === 'banks-apart';

/** Air that gets in ahead of the sensor: it sits where it should, and the exhaust or the intake leaks. */
const isLeak = ({ code, data }: Finding): boolean => code === 'sensor-mount' && data?.kind === 'air-leak';
const LEAK = 'air seems to leak in ahead of the mixture sensor, which at idle reads leaner for it than the engine runs';
/** The sensor is right, and the engine computer makes up for it. */
const LEAK_BY_TRIMS = 'at idle the engine computer adds far more fuel than when driven, as where air leaks in that nothing measures';
const leakWords = ({ data }: Finding): string => (data?.by === 'trims' ? LEAK_BY_TRIMS : LEAK);
const LEAK_FIRST = 'the air leak has been found (the exhaust joints up to the mixture sensor, and the intake)';

/**
 * Trims that make up for it all day: the readings are right, and the fuel or the air is not what the computer reckons. Fuel pressure comes
 * first, as with too little fuel.
 */
export const isOfTrims = ({ code, data }: Finding): boolean => code === 'value-implausible' && data?.kind === 'trims-stand';
const trimWords = ({ data }: Finding): string =>
  `the engine computer ${Number(data?.percent) > 0 ? 'adds far more fuel than' : 'takes away far more of the fuel that'} its settings reckon with, over most of the drive`;

/** Each bank is fuelled by the other's sensor. */
export const isCrossed = ({ data }: Finding): boolean => data?.kind === 'sensors-crossed';

/** Whether it is the engine that is at risk, not only a reading or a file. */
export const isOfEngine = (finding: Finding): boolean =>
  ENGINE.has(finding.code) || hides(finding) || isOverboost(finding) || isOilFall(finding) || isOfTrims(finding) || isCrossed(finding);

/** In a customer's words. */
export function wordsOf(finding: Finding): string {
  const { code, channel, data } = finding;
  if (hides(finding))
    return channel === 'manifold-pressure'
      ? 'boost went beyond what its sensor shows'
      : 'under load the mixture read as lean as its sensor can show and may have been far leaner';
  if (isMiss(finding) && finding.severity === 'error')
    return 'under load a cylinder seems not to fire or to get no fuel (plug, coil or injector)';
  if (isLeak(finding)) return leakWords(finding);
  if (isOverboost(finding)) return 'boost went above what vehicle.json allows this engine';
  if (isCrossed(finding)) return 'the two mixture sensors seem to be plugged crosswise, so that one bank runs far too lean';
  if (isOilFall(finding)) return 'oil pressure fell away at speed';
  if (isOfTrims(finding)) return trimWords(finding);
  return code === 'target-unsafe' && data?.kind === 'rich'
    ? 'the mixture that is aimed at is itself far too rich'
    : code === 'unit-unknown'
      ? faultWordsOf(finding)
      : WORDS[code];
}

const UNIT_WORDS: Readonly<Record<string, string>> = {
  'barometer-assumed': 'the air pressure of the day',
  'below-zero': 'a pressure below zero was read as counted from the air around the car',
  'sign-turned': 'knock retard that is counted downwards was turned round',
  unknown: 'a unit was not understood',
  unfit: 'a unit does not fit its channel',
  'time-scale': 'the clock is in another unit than it says',
};

export const faultWordsOf = (finding: Finding): string =>
  (finding.code === 'unit-unknown' && UNIT_WORDS[String(finding.data?.kind)]) ||
  (isLeak(finding) ? leakWords(finding) : WORDS[finding.code]);

/** What comes before the fuel table where its proven cells have something in common. */
export const CAUSE_FIRST: Readonly<Record<CommonCause['kind'], string>> = {
  banks:
    'the reason is found why one bank wants other fuel than the other (an injector, a sensor, a leak on one side): one fuel table feeds both',
  'whole-engine':
    'the one cause has been looked for that makes nearly all proven cells of the fuel table want the same change (fuel pressure, injectors, the fuel in the tank, the sensors of air and mixture)',
  'above-barometer':
    'manifold pressure has been held against a gauge under boost (its hose, the sensor): the fuel table is right up to the air around the car and short above it',
  'fixed-rail':
    'the hose between manifold and fuel pressure regulator has been looked at: the fuel table is off as where the rail does not follow the manifold',
  'steady-flow':
    "what is off by the same at all times has been looked for (a leak of the exhaust, the intake, the purge valve or an injector; the injectors' dead time): the fuel table is the further off the less the engine draws",
  meter: 'the air meter and the intake behind it have been looked at: its curve is further off the more air passes',
};

const LEAN_FIRST = 'fuel pressure has been checked under load';

/** What has to be done first, the most pressing first. */
const FIRST: readonly (readonly [codes: readonly FindingCode[], words: string])[] = [
  [['misfire-suspected'], 'the cylinder that misses has been found and cured (plug, coil, injector, compression)'],
  [['fuel-pressure-drop'], 'fuel pressure holds under load (pump, filter, wiring, regulator)'],
  [['injector-duty-high'], 'fuel pressure has been checked and the injectors have room again'],
  [['knock'], 'the cause of the knock has been found (fuel, mixture, heat, spark)'],
  [['channel-clipped', 'sensor-dropout'], 'fuel pressure and the sensor have been checked under load'],
  [['target-unsafe'], 'a safe target has been put in'],
  [['value-implausible'], 'boost stays within what this engine is allowed'],
  [['lean-under-load', 'cell-lean'], LEAN_FIRST],
];
/** A table that is corrected before these are cured is corrected for the wrong cause, or toward the wrong target. */
const BEFORE_TABLE = FIRST.slice(0, -1).flatMap(([codes]) => codes);

export const mustComeFirst = (finding: Finding): boolean => BEFORE_TABLE.includes(finding.code) && isOfEngine(finding);

/** Whatever has no words of its own asks for its cause. */
export function firstOf(findings: readonly Finding[]): string[] {
  const engine = findings
    .filter((finding) => isOfEngine(finding) && !isOilFall(finding) && !isCrossed(finding))
    .map((finding): FindingCode => (isOfTrims(finding) ? 'lean-under-load' : finding.code));
  const named = FIRST.filter(([codes]) => engine.some((code) => codes.includes(code)));
  const words = named.map(([, first]) => first);
  // Who looks for one of the causes has looked at fuel pressure.
  if (words.length > 1 && words[words.length - 1] === LEAN_FIRST && words.slice(0, -1).some((first) => first.includes('fuel pressure')))
    words.pop();
  const others = engine.some((code) => !named.some(([codes]) => codes.includes(code)));
  if (others) words.push(words.length > 0 ? 'every other cause has been found' : 'the cause has been found');
  if (findings.some(isCrossed)) words.unshift('each mixture sensor is plugged in on its own bank');
  if (findings.some(isOilFall)) words.unshift(OIL_FIRST);
  const leak = findings.some(isLeak) ? [LEAK_FIRST] : [];
  return words.length > 0 || findings.every(isLeak)
    ? [...words, ...leak]
    : [...leak, 'what is wrong with the readings or the files has been put right'];
}
