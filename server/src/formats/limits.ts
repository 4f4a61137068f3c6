// Every threshold that a finding judges by: its default, its unit, where it comes from. A vehicle file can set each one.

export interface Limit {
  readonly default: number;
  readonly unit: string;
  readonly meaning: string;
  /** Standard, book, statistics of the channel, or "common practice, no source". */
  readonly source: string;
}

const practice = 'common practice, no source';
const limit = (defaultValue: number, unit: string, meaning: string, source = practice): Limit => ({ default: defaultValue, unit, meaning, source });

export const LIMITS = {
  loadManifoldPressureKPa: limit(85, 'kPa', 'manifold pressure from which the engine is under load'),
  loadThrottlePercent: limit(80, '%', 'throttle from which the engine is under load, where no pressure is logged'),
  leanUnderLoad: limit(0.05, 'λ', 'lambda above target under load that is an error'),
  leanUnderLoadWarning: limit(0.03, 'λ', 'lambda above target under load that is a warning'),
  leanUnderLoadS: limit(0.2, 's', 'how long a lean reading under load must last to count'),
  leanUnderBoostLambda: limit(0.95, 'λ', 'lambda under boost that is an error whatever the target'),
  boostManifoldPressureKPa: limit(120, 'kPa', 'manifold pressure from which the engine is under boost'),
  richUnderLoad: limit(0.08, 'λ', 'lambda below target under load that is worth a look'),
  richUnderLoadS: limit(0.5, 's', 'how long a rich reading under load must last to count'),
  richLambda: limit(0.72, 'λ', 'lambda that washes cylinders whatever the target'),
  targetFullLoadPressureKPa: limit(100, 'kPa', 'manifold pressure from which a target must be rich, as at full throttle'),
  targetFullLoadLambda: limit(0.95, 'λ', 'target lambda at full load that is an error'),
  targetUnderLoadLambda: limit(1.05, 'λ', 'target lambda under load that is a warning'),
  knockRetardDeg: limit(2, '°', 'spark taken back by the knock control that is a warning'),
  knockRetardErrorDeg: limit(4, '°', 'spark taken back by the knock control that is an error'),
  injectorDutyPercent: limit(85, '%', 'injector duty that is a warning'),
  injectorDutyErrorPercent: limit(95, '%', 'injector duty that is an error'),
  fuelPressureDropPercent: limit(5, '%', 'fall of the pressure over the injector that is a warning'),
  fuelPressureDropErrorPercent: limit(10, '%', 'fall of the pressure over the injector that is an error', 'orifice law: 10 % less pressure is 5.1 % less fuel'),
  intakeAirHotC: limit(50, '°C', 'intake air temperature that is a warning under load'),
  intakeAirHotErrorC: limit(70, '°C', 'intake air temperature that is an error under load'),
  coolantHotC: limit(105, '°C', 'coolant temperature that is a warning'),
  coolantHotErrorC: limit(115, '°C', 'coolant temperature that is an error'),
  warmCoolantC: limit(70, '°C', 'coolant temperature from which the engine is warm and its readings are evidence'),
  sensorWarmUpS: limit(30, 's', 'how long a lambda sensor may take to read after power-up'),
  stuckS: limit(5, 's', 'how long a channel may stand still while the engine moves'),
  timeGapS: limit(1, 's', 'a hole in time that is told, where it is also many times the usual step'),
} as const satisfies Record<string, Limit>;

export type LimitId = keyof typeof LIMITS;

/** A limit as it holds for a car, with where it came from for the message. */
export interface LimitInForce { readonly value: number; readonly from: 'vehicle.json' | 'default'; readonly limit: Limit }

/** The vehicle's own limit where it is set, else the default. */
export const limitOf = (id: LimitId, set: Readonly<Partial<Record<LimitId, number>>>): LimitInForce => {
  const own = set[id];
  return own === undefined ? { value: LIMITS[id].default, from: 'default', limit: LIMITS[id] } : { value: own, from: 'vehicle.json', limit: LIMITS[id] };
};
