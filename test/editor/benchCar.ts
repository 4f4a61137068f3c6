// A small invented car with planted faults at known places, for tests that must say exactly where a finding stands.

/** The car's folder in the workspace, that of the sample beside it, and that of the small sample which the package carries. */
export const benchCarName = 'bench-car';
export const sampleName = 'samples';
export const firstCarName = 'bramble-coupe';

/** A letter typed for a zero, in a table cell. */
export const misspeltCell = '5O.0';

/** A stray mark in a reading of engine speed. */
export const misspeltReading = '25?4';

/** The row all hovers are tried on: rich, early in the pull, away from every planted fault. */
export const reading = { lambda: '0.830', manifoldPressureKPa: '160.0' };

const fuelTable = `# quantity: volumetric efficiency (%)
# columns: engine speed (rpm)
# rows: manifold pressure (kPa)
        , 1000, 2000, 3000, 4000, 5000, 6000
     40 , 45.0, 48.0, 50.0, 52.0, 52.5, 51.0
     70 , 55.0, 60.0, ${misspeltCell}, 66.0, 66.5, 64.0
    100 , 66.0, 72.0, 78.0, 82.0, 83.0, 80.0
    160 , 74.0, 80.0, 88.0, 94.0, 95.0, 91.0
`;

const targetTable = `# quantity: target lambda
# columns: engine speed (rpm)
# rows: manifold pressure (kPa)
        , 1000, 3500, 6000
     40 , 1.00, 1.00, 1.00
    100 , 0.95, 0.92, 0.90
    160 , 0.84, 0.83, 0.83
`;

/** One row: more fuel while the engine is cold. */
const warmupTable = `# quantity: multiplier
# columns: coolant temperature (°C)
      , -20 ,  20 ,  50 ,  80
      , 1.45, 1.22, 1.08, 1.00
`;

const vehicle = {
  name: 'Bench car',
  engine: { displacementL: 1.998, cylinders: 4, revLimitRpm: 7000, aspiration: 'turbocharged', maxManifoldPressureKPa: 190 },
  fuel: { blend: 'E10' },
  lambdaSensor: { range: [0.65, 1.6], mount: 'upstream' },
  tables: { fuel: 'tables/fuel.table.csv', target: 'tables/target.table.csv' },
  sessions: ['sessions/*.session.csv'],
};

const rateHz = 20;
/** The row of time 0 stands below a note and the header. */
const firstRow = 2;
const headerLine = 'Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%),Lambda,Coolant Temperature (°C)';

/** Seconds of the drive: each stretch runs from where the last ended. The lean spot is three times longer than a tip-in may be. */
const stretches = { idle: 10, cruise: 40, rich: 43, lean: 45, richAgain: 46, overrun: 49, idleAgain: 60 };

const misspeltIndex = 25 * rateHz;
const readingIndex = 42 * rateHz;
const sensorEnd = 1.6;

/** The zero-based line of `reading`. */
export const readingLine = firstRow + readingIndex;

/** Zero-based lines of `drive.session.csv` between which lambda reads lean at 160 kPa; the last is included. */
export const leanLines = { first: firstRow + stretches.rich * rateHz, last: firstRow + stretches.lean * rateHz - 1 };

/** The lines of the whole pull, which has the lean spot in its middle. */
export const pullLines = { first: firstRow + stretches.cruise * rateHz, last: firstRow + stretches.richAgain * rateHz - 1 };

function driveRow(index: number): string {
  const timeS = index / rateHz;
  // A ripple no sensor is without, so that none looks stuck.
  const ripple = index === readingIndex ? 0 : Math.sin(index * 1.7);
  const [speedRpm, pressureKPa, throttlePercent, lambda] = driveState(timeS);
  return [
    timeS.toFixed(2),
    index === misspeltIndex ? misspeltReading : (speedRpm + 12 * ripple).toFixed(0),
    (pressureKPa + 0.6 * ripple).toFixed(1),
    throttlePercent.toFixed(1),
    Math.min(sensorEnd, lambda + 0.006 * ripple).toFixed(3),
    (88 + timeS / 30).toFixed(1),
  ].join(',');
}

/** Engine speed (rpm), manifold pressure (kPa), throttle (%) and lambda at a time. */
function driveState(timeS: number): [number, number, number, number] {
  const pullRpm = 3000 + 500 * (timeS - stretches.cruise);
  if (timeS < stretches.idle) return [850, 36, 2, 1];
  if (timeS < stretches.cruise) return [2500, 62, 18, 1];
  if (timeS < stretches.rich) return [pullRpm, 160, 100, 0.83];
  if (timeS < stretches.lean) return [pullRpm, 160, 100, 0.97];
  if (timeS < stretches.richAgain) return [pullRpm, 160, 100, 0.83];
  // Fuel is cut: the sensor reads plain air, and that is no lean spot.
  if (timeS < stretches.overrun) return [6000 - 1500 * (timeS - stretches.richAgain), 24, 0, sensorEnd];
  return [850, 36, 2, 1];
}

const drive = `# car: bench car\n${headerLine}\n${Array.from({ length: stretches.idleAgain * rateHz }, (_, index) => driveRow(index)).join('\n')}\n`;

/** A log under a plain name, whose header reads as a session; it reaches to the misspelt reading. */
const plainLog = drive.split('\n').slice(1, 600).join('\n');

/** Path in the car's folder → text. */
export const benchCarFiles: Readonly<Record<string, string>> = {
  'vehicle.json': `${JSON.stringify(vehicle, null, 2)}\n`,
  'tables/fuel.table.csv': fuelTable,
  'tables/target.table.csv': targetTable,
  'tables/warmup.table.csv': warmupTable,
  'sessions/drive.session.csv': drive,
  'plain-log.csv': plainLog,
};
