// What the road takes: force and power at the driven wheels from speed and acceleration (road resistance as in the Bosch Automotive
// Handbook).

export const GRAVITY_M_PER_S2 = 9.80665;

export interface RoadLoad {
  readonly massKg: number;
  /** What turning parts add to the mass, as a factor. */
  readonly rotatingMassFactor: number;
  readonly dragAreaM2: number;
  readonly rollingResistance: number;
  readonly airDensityKgPerM3: number;
  /** Rise over run; 0 on the level. */
  readonly grade: number;
}

/** Watts at the wheels: (m_e a + ½ ρ CdA v² + Crr m g cos α + m g sin α) v. */
export const wheelPowerW = (load: RoadLoad, speedMps: number, accelerationMps2: number): number => {
  const { inertiaW, dragW, rollingW, gradeW } = powersW(load, speedMps, accelerationMps2);
  return inertiaW + dragW + rollingW + gradeW;
};

/** The same, part by part. */
export const powersW = (
  load: RoadLoad,
  speedMps: number,
  accelerationMps2: number,
): { inertiaW: number; dragW: number; rollingW: number; gradeW: number } => {
  const angle = Math.atan(load.grade),
    weightN = load.massKg * GRAVITY_M_PER_S2;
  return {
    inertiaW: load.massKg * load.rotatingMassFactor * accelerationMps2 * speedMps,
    dragW: 0.5 * load.airDensityKgPerM3 * load.dragAreaM2 * speedMps ** 3,
    rollingW: load.rollingResistance * weightN * Math.cos(angle) * speedMps,
    gradeW: weightN * Math.sin(angle) * speedMps,
  };
};

/** T = P / ω, N m. */
export const torqueNm = (powerW: number, rpm: number): number => (powerW * 60) / (2 * Math.PI * rpm);

/** Metres a second of a car in a gear without slip; `overallRatio` is gearbox times final drive. */
export const speedMpsOf = (rpm: number, overallRatio: number, tyreRadiusM: number): number =>
  ((rpm * 2 * Math.PI) / 60 / overallRatio) * tyreRadiusM;

/**
 * Factor of the turning parts by the overall ratio (gearbox times final drive), for a passenger car: 1.04 + 0.0025 N².
 * Source: Gillespie, Fundamentals of Vehicle Dynamics, ch. 2, after Taborek (from memory); good to about ±0.05.
 */
export const estimatedMassFactor = (overallRatio: number): number => 1.04 + 0.0025 * overallRatio ** 2;
