// A small made-up drive as text: idle, a full-load pull that runs lean at its end, overrun. Its shape is hand-made; it shares nothing with
// the code under test.

export interface DriveOptions {
  /** Header of the lambda column. */
  readonly lambdaHeader?: string;
  /** λ in the last second of the pull. */
  readonly leanest?: number;
  /** λ of the steady drive before and behind it. */
  readonly cruise?: number;
  /** Boost that is never quite level; else it stands flat, as at the end of its sensor. */
  readonly unrest?: true;
}

/** 25 rows a second, 40 s; the pull lasts from 20 s to 26 s. */
export function sampleDrive({ lambdaHeader = 'Lambda (λ)', leanest = 1.02, cruise = 1, unrest }: DriveOptions = {}): string {
  const rows = [
    `Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%),${lambdaHeader},Target Lambda (λ),Coolant Temperature (°C)`,
  ];
  for (let row = 0; row < 1000; row++) {
    const timeS = row / 25;
    const wobble = Math.sin(row * 1.7) * 0.5 + Math.sin(row * 0.61) * 0.5;
    const pulling = timeS >= 20 && timeS < 26;
    const overrun = timeS >= 26 && timeS < 29;
    const along = (timeS - 20) / 6;
    const rpm = pulling ? 2500 + 4000 * along : overrun ? 6500 - 1200 * (timeS - 26) : 2200 + 40 * wobble;
    const kPa = pulling ? Math.min(180, 60 + 240 * along) + (unrest ? 2 * wobble : 0) : overrun ? 25 : 45 + 2 * wobble;
    const throttle = pulling ? 100 : overrun ? 0 : 18 + wobble;
    const target = pulling ? 0.85 : 1;
    const lambda = pulling ? (timeS > 24.5 ? leanest : 0.85) + 0.004 * wobble : overrun ? 1.6 : cruise + 0.01 * wobble;
    rows.push(
      [timeS.toFixed(2), rpm.toFixed(0), kPa.toFixed(1), throttle.toFixed(1), lambda.toFixed(3), target.toFixed(2), '88'].join(','),
    );
  }
  return `${rows.join('\n')}\n`;
}

export const SAMPLE_TABLE = `# quantity: volumetric efficiency (%)
# columns: engine speed (rpm)
# rows: manifold pressure (kPa)
     , 2000, 3000, 4000, 5000, 6000
  40 , 52.0, 54.0, 55.0, 56.0, 55.0
  80 , 70.0, 72.0, 74.0, 75.0, 74.0
 120 , 82.0, 84.0, 86.0, 87.0, 86.0
 180 , 90.0, 92.0, 94.0, 95.0, 94.0
`;

export const SAMPLE_VEHICLE = `{
  "name": "Test coupe",
  "fuel": { "blend": "E85" },
  "tables": { "fuel": "tables/ve.table.csv" },
  "sessions": ["extra/*.csv"]
}
`;

/** A vehicle folder with all three. */
export const SAMPLE_CAR = `=== vehicle.json
${SAMPLE_VEHICLE}=== tables/ve.table.csv
${SAMPLE_TABLE}=== sessions/run.session.csv
${sampleDrive()}`;

/** A long steady cruise, 6 % lean throughout, over two cells. */
function leanCruise(lambda = 1.06): string {
  const rows = ['Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%),Lambda (λ),Target Lambda (λ),Coolant Temperature (°C)'];
  for (let row = 0; row < 6000; row++) {
    const timeS = row / 25;
    const slow = Math.sin(timeS / 7);
    rows.push(
      [
        timeS.toFixed(2),
        (2500 + 500 * slow).toFixed(0),
        (36 + Math.sin(timeS / 3) * 2).toFixed(1),
        '20.0',
        (lambda + 0.004 * Math.sin(row * 2.3)).toFixed(3),
        '1.00',
        '88',
      ].join(','),
    );
  }
  return `${rows.join('\n')}\n`;
}

/** A vehicle folder whose table is proven 6 % short of fuel in its first row. */
export const LEAN_CAR = `=== vehicle.json
{
    "name": "Test coupe", // kept
    "tables": { "fuel": "tables/ve.table.csv" }
}
=== tables/ve.table.csv
${SAMPLE_TABLE}=== sessions/cruise [1].session.csv
${leanCruise()}`;

/** A pull of that car, as lean where it cruises. */
export const leanPull = (): string => sampleDrive({ cruise: 1.06 });

/** The same car with a second drive, in which no fuel is missing. */
export const CONTRADICTED_CAR = `${LEAN_CAR}=== sessions/cruise [2].session.csv
${leanCruise(1)}`;
