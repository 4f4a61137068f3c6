// Every threshold that a finding judges by: its default, its unit, where it comes from. A vehicle file can set each one.

export interface Limit {
  readonly default: number;
  readonly unit: string;
  /**
   * What it can be set to: beyond, it is another unit or a slip (5 for 5 % of lambda, 12 psi for kPa, milliseconds), and would silence its
   * finding or tell it of every drive (common practice, no source).
   */
  readonly range: readonly [low: number, high: number];
  readonly meaning: string;
  /** Standard, book, statistics of the channel, or "common practice, no source". */
  readonly source: string;
}

const practice = 'common practice, no source';
const limit = (defaultValue: number, unit: string, range: Limit['range'], meaning: string, source = practice): Limit => ({
  default: defaultValue,
  unit,
  range,
  meaning,
  source,
});

export const LIMITS = {
  loadManifoldPressureKPa: limit(85, 'kPa', [30, 1000], 'manifold pressure from which the engine is under load'),
  loadThrottlePercent: limit(
    80,
    '%',
    [5, 100],
    'throttle from which the engine is under load, where no pressure is logged; unless set, also the stop below it that the throttle was pressed to three times',
  ),
  leanUnderLoad: limit(0.05, 'λ', [0, 0.5], 'lambda above target under load that is an error'),
  leanUnderLoadWarning: limit(0.03, 'λ', [0, 0.5], 'lambda above target under load that is a warning'),
  leanUnderLoadS: limit(0.2, 's', [0, 10], 'how long a lean reading under load must last to count'),
  leanUnderBoostLambda: limit(0.95, 'λ', [0.6, 1.3], 'lambda under boost that is an error whatever the target'),
  boostManifoldPressureKPa: limit(120, 'kPa', [30, 1000], 'manifold pressure from which the engine is under boost'),
  richUnderLoad: limit(0.08, 'λ', [0, 0.5], 'lambda below target under load that is worth a look'),
  richUnderLoadS: limit(0.5, 's', [0, 60], 'how long a rich reading under load must last to count'),
  richLambda: limit(0.72, 'λ', [0.4, 1], 'lambda that washes cylinders whatever the target'),
  targetFullLoadPressureKPa: limit(100, 'kPa', [30, 1000], 'manifold pressure from which a target must be rich, as at full throttle'),
  targetFullLoadLambda: limit(0.95, 'λ', [0.6, 1.3], 'target lambda at full load that is an error'),
  targetUnderLoadLambda: limit(1.05, 'λ', [0.6, 1.6], 'target lambda under load that is a warning'),
  knockRetardDeg: limit(2, '°', [0, 45], 'spark taken back by the knock control that is a warning'),
  knockRetardErrorDeg: limit(4, '°', [0, 45], 'spark taken back by the knock control that is an error'),
  injectorDutyPercent: limit(85, '%', [2, 120], 'injector duty that is a warning'),
  injectorDutyErrorPercent: limit(95, '%', [2, 120], 'injector duty that is an error'),
  fuelPressureDropPercent: limit(5, '%', [0.5, 90], 'fall of the pressure over the injector that is a warning'),
  fuelPressureDropErrorPercent: limit(
    10,
    '%',
    [0.5, 90],
    'fall of the pressure over the injector that is an error',
    'orifice law: 10 % less pressure is 5.1 % less fuel',
  ),
  fuelPressureDropS: limit(0.4, 's', [0, 60], 'how long the fall of the pressure over the injector must last to be told'),
  intakeAirHotC: limit(50, '°C', [0, 150], 'intake air temperature that is a warning under load'),
  intakeAirHotErrorC: limit(70, '°C', [0, 200], 'intake air temperature that is an error under load'),
  coolantHotC: limit(105, '°C', [40, 180], 'coolant temperature that is a warning'),
  coolantHotErrorC: limit(115, '°C', [40, 200], 'coolant temperature that is an error'),
  oilHotC: limit(130, '°C', [40, 200], 'oil temperature that is a warning'),
  oilHotErrorC: limit(145, '°C', [40, 220], 'oil temperature that is an error'),
  exhaustHotC: limit(950, '°C', [300, 1300], 'exhaust gas temperature that is a warning'),
  exhaustHotErrorC: limit(1000, '°C', [300, 1600], 'exhaust gas temperature that is an error'),
  oilPressureFallPercent: limit(50, '%', [5, 95], 'fall of the oil pressure below what the log holds at the same speed that is told'),
  oilPressureKPaPer1000Rpm: limit(69, 'kPa each 1000 rpm', [5, 200], 'oil pressure that each 1000 rpm want at least: 10 psi'),
  warmCoolantC: limit(70, '°C', [0, 120], 'coolant temperature from which the engine is warm and its readings are evidence'),
  sensorWarmUpS: limit(30, 's', [0, 600], 'how long a lambda sensor may take to read after power-up'),
  stuckS: limit(5, 's', [0.1, 600], 'how long a channel may stand still while the engine moves'),
  idleBandRpm: limit(450, 'rpm', [20, 5000], 'engine speed above the usual idle up to which a closed throttle at a standstill is idle'),
  overrunAboveIdleRpm: limit(350, 'rpm', [20, 5000], 'engine speed above the usual idle from which a closed throttle is overrun'),
  pullS: limit(1, 's', [0.1, 60], 'how long full load must last to be a pull'),
  pullRiseRpm: limit(
    400,
    'rpm',
    [0, 10000],
    'how far the engine speed must rise under full load to be a pull, unless the load is held steady',
  ),
  pullHeldS: limit(1.5, 's', [0.1, 60], 'how long full load must be held at a steady speed to be a pull'),
  clippedReadings: limit(3, 'readings', [1, 1000], 'readings running at one extreme from which a sensor may be at its stop'),
  clippedRichS: limit(2, 's', [0, 600], 'how long lambda must stay at its rich stop to be told'),
  clippedLeanS: limit(0.4, 's', [0, 60], 'how long lambda must stay at its lean stop away from load to be told'),
  dropoutS: limit(0.18, 's', [0, 60], 'shortest loss of a reading that counts as a dropout'),
  dropoutLongestS: limit(
    30,
    's',
    [0.1, 3600],
    'longest leap to an end of the scale that counts as a dropout; beyond it the channel is broken',
  ),
  coldCoolantStillS: limit(240, 's', [1, 7200], 'how long a cold coolant temperature may stand still while the engine runs'),
  stillWhileDrivenS: limit(
    20,
    's',
    [0.5, 3600],
    'how long a reading that follows the engine may keep one value while engine speed and another load reading move widely',
    'physics: no throttle, pressure or air flow keeps one value while the rest of the engine moves through its range',
  ),
  airLeakIdleLambda: limit(0.06, 'λ', [0, 0.5], 'lambda above target at warm idle, with part load in order, that points to an air leak'),
  airLeakElsewhereLambda: limit(0.035, 'λ', [0, 0.5], 'lambda off target at part load up to which part load is in order'),
  trimsStandPercent: limit(
    10,
    '%',
    [1, 100],
    'fuel that the trims add or take away over most of a warm drive that is told, where no fuel table is named',
  ),
  airLeakIdleTrimPercent: limit(
    12,
    '%',
    [1, 100],
    'fuel that the trims add at warm idle, fading with air flow when driven, that points to an air leak',
  ),
  airLeakElsewhereTrimPercent: limit(
    5,
    '%',
    [0, 50],
    'how far the trims may be, from three times the air flow of idle on, off what a hole of that size leaves there',
  ),
  misfireLambda: limit(
    0.06,
    'λ',
    [0, 1],
    'lambda of one bank above the other that may be a misfire',
    'arithmetic: cylinders / (cylinders − share missed); one of four that misses a quarter of its cycles reads 1.07',
  ),
  misfireS: limit(0.3, 's', [0, 60], 'how long one bank must read above the other to be suspected'),
  misfireAloneLambda: limit(0.1, 'λ', [0, 1], 'lambda above target that may be a misfire where one bank is logged'),
  misfireAloneS: limit(0.8, 's', [0, 60], 'how long lambda must stand above target to be suspected where one bank is logged'),
  misfireTrimPercent: limit(3, '%', [0, 100], 'fuel added by the trim of one bank that speaks for a misfire'),
  misfirePoints: limit(2.5, 'points', [0, 20], 'signs from which a misfire is told; half a point more where one bank is logged'),
  gaugesApartPercent: limit(
    2.5,
    '%',
    [0.5, 50],
    'steady difference of two lambda gauges of one bank that is told; each is good to about one per cent',
  ),
  cellNotePercent: limit(3, '%', [0, 100], 'proven surplus of fuel in a cell, or want of it at light load, that is worth a note'),
  cellFarPercent: limit(
    30,
    '%',
    [5, 300],
    'change that a cell is proven to want from which something else than the table is looked for, and none is made',
  ),
  sharedCausePercent: limit(
    2,
    '%',
    [0, 1000],
    'change that proven cells want in common, as for one cause, up to which they are changed all the same',
  ),
  cellRoughPercent: limit(10, '%', [0, 200], 'departure of a cell from the line between its neighbours that is told'),
  cellRoughWarningPercent: limit(20, '%', [0, 300], 'departure of a cell from the line between its neighbours that is a warning'),
  timeGapS: limit(1, 's', [0, 600], 'a hole in time that is told, where it is also many times the usual step'),
} as const satisfies Record<string, Limit>;

export type LimitId = keyof typeof LIMITS;

/** A limit as it holds for a car, with where it came from for the message. */
export interface LimitInForce {
  readonly value: number;
  readonly from: 'vehicle.json' | 'default';
  readonly limit: Limit;
}

/** The vehicle's own limit where it is set, else the default. */
export const limitOf = (id: LimitId, set: Readonly<Partial<Record<LimitId, number>>>): LimitInForce => {
  const own = set[id];
  return own === undefined
    ? { value: LIMITS[id].default, from: 'default', limit: LIMITS[id] }
    : { value: own, from: 'vehicle.json', limit: LIMITS[id] };
};
