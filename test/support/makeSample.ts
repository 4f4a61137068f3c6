// Writes the sample car under `samples/`, an invented hill-climb coupe with trouble planted in it, and the small one of it that the package
// carries for the first steps. `npm run sample`; the same bytes every time.

import { mkdirSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import {
  plantErrors,
  gridOf,
  makeCar,
  perfectTable,
  simulateDrive,
  toSessionCsv,
  type Dialect,
  type Drive,
  type Grid,
} from './simulator/index.js';
import { encode } from './simulator/sessionCsv.js';
import { randomOf } from './simulator/random.js';
import { fuelTableText, targetTableText } from './simulator/vehicleFolder.js';

/** Chosen once, for a drive that shows what it should. */
const SEED = 20260912;
export const SAMPLE_NAME = 'bramble-coupe';

const COLUMNS = [800, 1200, 1600, 2000, 2400, 2800, 3200, 3600, 4000, 4400, 4800, 5200, 5600, 6000, 6600, 7200];
const ROWS = [25, 35, 45, 60, 75, 90, 100, 115, 130, 150, 170, 190];

/** The car: 2.0 litres, a small blower, injectors that fit. */
export const sampleCar = makeCar('supercharged', SEED, {
  name: 'Bramble coupe',
  displacementL: 1.998,
  cylinders: 4,
  cylinderAir: [1.006, 0.997, 0.993, 1.004],
  cylinderFuel: [0.995, 1.008, 1.001, 0.996],
  idleRpm: 880,
  revLimitRpm: 7200,
  boostKPa: 92,
  blowerExponent: 0.75,
  barometerKPa: 97.8,
  ambientC: 13,
  injector: { flowCcPerMin: 650, ratedPressureKPa: 300, deadTimeAt14VMs: 0.92 },
  throttleDiameterMm: 64,
  manifoldVolumeL: 2.9,
  columns: COLUMNS,
  rows: ROWS,
  exhaustVolumeL: 1.7,
  mixedShare: 0.25,
  filling: (speedRpm, pressureKPa) => {
    const x = speedRpm / 7200,
      speed = 0.745 + 0.235 * Math.exp(-(((x - 0.7) / 0.4) ** 2)) + 0.011 * Math.sin(13 * x + 0.7);
    return speed * (1 - 0.33 * Math.exp(-(Math.max(8, pressureKPa) - 25) / 42) + 0.035 * Math.tanh((pressureKPa - 105) / 45));
  },
  targetLambda: (_speedRpm, pressureKPa) => {
    const part = Math.max(0, Math.min(1, (pressureKPa - 70) / 85));
    return 1 - 0.18 * part * part * (3 - 2 * part);
  },
  lambdaSensor: {
    lagS: 0.05,
    secondLagS: 0.008,
    latencyS: 0.01,
    range: [0.65, 1.6],
    whiteNoise: 0.003,
    slowNoise: 0.0025,
    quantum: 0.001,
    warmUpS: 18,
  },
  vehicle: { massKg: 1090, dragAreaM2: 0.62, rolling: 0.013, tyreRadiusM: 0.3, gears: [3.3, 2.1, 1.5, 1.17, 0.94], finalDrive: 4.1 },
  log: {
    rateHz: 25,
    everyRows: {},
    polled: false,
    channels: [
      'engine-speed',
      'manifold-pressure',
      'barometric-pressure',
      'throttle',
      'lambda',
      'target-lambda',
      'ignition-advance',
      'knock-retard',
      'injector-pulse-width',
      'injector-duty',
      'fuel-pressure',
      'intake-air-temperature',
      'coolant-temperature',
      'vehicle-speed',
      'gear',
      'battery-voltage',
      'fuel-cut',
    ],
  },
});

/** What the tuner left: 8 % too little round 5200 rpm and 170 kPa, 6 % too much round 2400 rpm and 60 kPa, small errors elsewhere. */
export const sampleFuelTable: Grid = plantErrors(perfectTable(sampleCar), randomOf(SEED), {
  swing: 0.006,
  digits: 1,
  bumps: [
    { column: COLUMNS.indexOf(5200), row: ROWS.indexOf(170), widthColumns: 1.15, widthRows: 0.9, size: -0.085 },
    { column: COLUMNS.indexOf(2400), row: ROWS.indexOf(60), widthColumns: 1, widthRows: 0.9, size: 0.06 },
  ],
});
const targetTable: Grid = gridOf([800, 2000, 3200, 4400, 5600, 7200], ROWS, (speedRpm, pressureKPa) =>
  Number(sampleCar.targetLambda(speedRpm, pressureKPa).toFixed(2)),
);

/** The lambda plug comes loose for 0.8 s, half-way through a cruise: the logger writes zero. */
const dropoutOf = (drive: Drive): { fromS: number; toS: number } => {
  const cruise = drive.truth.events.find((event) => event.kind === 'cruise' && event.fromS > 240 && event.toS - event.fromS > 8)!;
  const fromS = Math.round((cruise.fromS + cruise.toS) / 2);
  return { fromS, toS: fromS + 0.8 };
};
function pullThePlug(drive: Drive): Drive {
  const { fromS, toS } = dropoutOf(drive),
    { values } = drive.channels.get('lambda')!;
  drive.timeS.forEach((timeS, i) => {
    if (timeS >= fromS && timeS < toS) values[i] = 0;
  });
  return drive;
}

const only = (drive: Drive, left: readonly string[]): Drive => ({
  ...drive,
  channels: new Map([...drive.channels].filter(([name]) => !left.includes(name))),
});

/** The three sessions, each from another logger. */
export function sampleSessions(): { path: string; drive: Drive; dialect: Partial<Dialect> }[] {
  const common = { car: sampleCar, fuelTable: sampleFuelTable, targetTable };
  const street = pullThePlug(simulateDrive({ ...common, seed: SEED + 1, minutes: 9, rateHz: 20, driver: 'street', start: 'cold' }));
  const hill = simulateDrive({ ...common, seed: SEED + 2, minutes: 7, rateHz: 25, driver: 'track' });
  const dyno = simulateDrive({ ...common, seed: SEED + 3, minutes: 5, rateHz: 25, driver: 'dyno' });
  return [
    {
      path: 'sessions/street.session.csv',
      drive: only(street, ['barometric-pressure']),
      dialect: {
        delimiter: ';',
        decimalComma: true,
        encoding: 'windows-1252',
        lineEnd: '\r\n',
        brackets: '()',
        notes: [
          ['car', 'Bramble coupe'],
          ['date', '2026-09-12'],
          ['place', 'Holm valley road, cold start, then home'],
          ['fuel', 'E10'],
          ['driver', 'O. Brandvik'],
          ['passenger', 'laptop'],
        ],
      },
    },
    {
      path: 'sessions/hill.session.csv',
      drive: hill,
      dialect: {
        lambda: 'afr',
        pressure: 'psi gauge',
        brackets: '[]',
        notes: [
          ['car', 'Bramble coupe'],
          ['date', '2026-09-13'],
          ['place', 'Kettle Edge hill climb, practice'],
          ['fuel', 'E10'],
          ['air-fuel ratio', 'gasoline scale, 14.7 is lambda 1'],
        ],
      },
    },
    {
      path: 'sessions/dyno.session.csv',
      drive: only(dyno, ['fuel-cut', 'barometric-pressure']),
      dialect: {
        spaceAfterDelimiter: true,
        time: 'ms',
        ends: { 'manifold-pressure': [15, 160] },
        headers: { throttle: 'Throttle Position', 'ignition-advance': 'Ignition Timing' },
        notes: [
          ['car', 'Bramble coupe'],
          ['date', '2026-09-15'],
          ['place', 'Quillfeather workshop, dyno cell 2'],
          ['fuel', 'E10'],
          ['manifold pressure', 'sensor of the cell, not of the car'],
        ],
      },
    },
  ];
}

const VEHICLE = `{
  "name": "Bramble coupe",
  "engine": {
    "displacementL": 1.998, "cylinders": 4, "revLimitRpm": 7200,
    "aspiration": "supercharged", "maxManifoldPressureKPa": 200
  },
  "fuel": { "blend": "E10" },
  "injectors": { "flowCcPerMin": 650, "ratedPressureKPa": 300, "maxDutyPercent": 85 },
  "body": {
    "massKg": 1090, "dragAreaM2": 0.62, "rollingResistance": 0.013,
    "tyreRadiusM": 0.300, "gearRatios": [3.3, 2.1, 1.5, 1.17, 0.94], "finalDrive": 4.1
  },
  "weather": { "pressureKPa": 97.8, "temperatureC": 13, "humidityPercent": 60 },
  "goal": { "wheelPowerKW": 210 },
  "lambdaSensor": { "range": [0.65, 1.60], "mount": "upstream", "transportDelay": "estimate" },
  "tables": { "fuel": "tables/ve.table.csv", "target": "tables/target.table.csv" },
  "sessions": ["sessions/*.session.csv"]
}
`;

const README = `# The Bramble coupe

An invented car, made by \`npm run sample\`. Nothing here was measured on a real one.

Odile Brandvik built the Bramble for one hill: Kettle Edge, 2.4 km, eleven corners. A 2.0 litre four, a small belt-driven blower
that gives about 0.9 bar at the top, 650 cc injectors, E10 from the pump, a wideband sensor in the collector before the catalyst.
The Quillfeather workshop fitted the blower in August and wrote the first fuel table. Three sessions are on file:

| session | what it is | written by |
| --- | --- | --- |
| \`sessions/street.session.csv\` | cold start and nine minutes of road, 20 rows a second | a logger with \`;\`, decimal comma and Windows-1252 |
| \`sessions/hill.session.csv\` | practice on the hill, 25 rows a second | a logger with air-fuel ratio on the gasoline scale and boost in psi |
| \`sessions/dyno.session.csv\` | holds and full-throttle runs in the dyno cell, 25 rows a second | the cell's own logger, time in milliseconds, with the cell's own pressure sensor |

Odile says it pulls "a bit flat somewhere past five thousand". Before the next run Quillfeather wants to know three things: is it
safe, can the readings be believed, and what has to change in \`tables/ve.table.csv\`?

<details><summary>What was planted (do not look before you have tried)</summary>

- The fuel table is about 8 % short round 5200 rpm and 170 kPa. Every full pull goes lean there, in all three sessions.
- It is about 6 % too rich round 2400 rpm and 60 kPa: no danger, some fuel.
- In the street session the lambda plug is loose for 0.8 s, at DROPOUT s. The zero there is not a mixture.
- In the dyno session the pressure sensor ends at 160 kPa while the blower gives more. Above that, nothing in that session belongs
  to a cell of the table.
- Overrun, gear shifts, the cold start and the first seconds of the cold sensor look bad and are not.

</details>
`;

const TABLE_NOTES = [
  'Bramble coupe, fuel, first table after fitting the blower (Quillfeather, August)',
  'Idle and cruise set on the road; boost rows filled in by eye, to be proven',
];

const tableTexts = (): Record<string, string> => ({
  'tables/ve.table.csv': fuelTableText(sampleCar, sampleFuelTable, TABLE_NOTES),
  'tables/target.table.csv': targetTableText(targetTable, [
    'Bramble coupe, target lambda: catalyst window below 70 kPa, 0.82 in full boost',
  ]).replace(/(0|1)\.(\d\d)0\b/g, ' $1.$2'),
});

/** Files of the sample by path, as bytes. */
export function sampleFiles(sessions = sampleSessions()): Map<string, Uint8Array> {
  const files = new Map<string, Uint8Array>();
  const text = (path: string, content: string): void => {
    files.set(path, encode(content, 'utf-8'));
  };
  text('vehicle.json', VEHICLE);
  for (const [path, content] of Object.entries(tableTexts())) text(path, content);
  for (const { path, drive, dialect } of sessions) files.set(path, encode(toSessionCsv(drive, dialect), dialect.encoding ?? 'utf-8'));
  text('README.md', README.replace('DROPOUT', String(dropoutOf(sessions[0].drive).fromS)));
  return files;
}

const FIRST_README = `# The Bramble coupe, a minute and a half of it

An invented car: nothing here was measured on a real one. Quillfeather fitted a small blower and wrote \`tables/ve.table.csv\` by eye; then they
held it in the dyno cell and ran it through at full throttle (\`sessions/dyno.session.csv\`, 10 rows a second).

Is it safe, can the readings be believed, and what has to change in the table?

<details><summary>What was planted (do not look before you have tried)</summary>

The table is about 8 % short round 5200 rpm and 170 kPa: held there, and in the full pull, the engine runs lean.

</details>
`;

/** The same car with one short session of few channels: small enough to be carried in the package. */
export function firstSampleFiles(): Map<string, Uint8Array> {
  const drive = simulateDrive({
    car: sampleCar,
    fuelTable: sampleFuelTable,
    targetTable,
    seed: SEED + 8,
    minutes: 1.5,
    rateHz: 10,
    driver: 'dyno',
  });
  const logged = ['engine-speed', 'manifold-pressure', 'throttle', 'lambda', 'injector-duty', 'fuel-pressure', 'coolant-temperature'];
  const session = toSessionCsv(
    only(
      drive,
      [...drive.channels.keys()].filter((name) => !logged.includes(name)),
    ),
    {
      notes: [
        ['car', 'Bramble coupe'],
        ['date', '2026-09-15'],
        ['place', 'Quillfeather workshop, dyno cell 2'],
        ['fuel', 'E10'],
      ],
    },
  );
  const texts = { 'vehicle.json': VEHICLE, 'README.md': FIRST_README, 'sessions/dyno.session.csv': session, ...tableTexts() };
  return new Map(Object.entries(texts).map(([path, text]) => [path, encode(text, 'utf-8')]));
}

/** Where each sample lies in the checkout. */
export const SAMPLE_FOLDERS: Readonly<Record<string, () => Map<string, Uint8Array>>> = {
  [`samples/${SAMPLE_NAME}`]: sampleFiles,
  [`client/sample/${SAMPLE_NAME}`]: firstSampleFiles,
};

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  for (const [path, files] of Object.entries(SAMPLE_FOLDERS)) {
    const folder = fileURLToPath(new URL(`../../${path}/`, import.meta.url));
    rmSync(folder, { recursive: true, force: true });
    let bytes = 0;
    for (const [file, content] of files()) {
      mkdirSync(dirname(join(folder, file)), { recursive: true });
      writeFileSync(join(folder, file), content);
      bytes += content.length;
    }
    console.error(`Wrote ${path}: ${(bytes / 1e6).toFixed(2)} MB`);
  }
}
