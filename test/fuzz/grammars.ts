// What each kind of file is made of, for the fuzz runs: small whole examples of the project's own formats and the words that mean something in them.

import { frameLines } from '../formats/can/frames.js';
import { sampleDrive, SAMPLE_TABLE, SAMPLE_VEHICLE } from '../support/sampleDrive.js';
import type { Grammar } from './mutate.js';

const drive = sampleDrive().split('\n');
const HEADERS = [
  'Time (s)', 'Time', 'Engine Speed (rpm)', 'RPM', 'Manifold Pressure (kPa)', 'Boost (psi)', 'MAP [bar]', 'Throttle (%)', 'Lambda (λ)', 'AFR', 'AFR E85', 'Lambda 2', 'Target Lambda', 'Target AFR', 'STFT (%)', 'LTFT (%)',
  'Coolant Temperature (°F)', 'Intake Air Temperature (°C)', 'Knock Retard (deg)', 'Ignition Advance (deg)', 'Injector Duty (%)', 'Injector Pulse Width (ms)', 'Fuel Pressure (psi)', 'Oil Pressure (kPa)', 'Mass Air Flow (g/s)',
  'MAF (V)', 'Vehicle Speed (km/h)', 'Battery (V)', 'Ethanol (%)', 'Gear', 'Fuel Cut', 'Trouble Code', 'DTC', 'Barometric Pressure (kPa)', '(rpm)', '[]', 'WB2 volts',
];

export const SESSION: Grammar = {
  examples: [
    drive.slice(0, 30).join('\n'),
    [drive[0], ...drive.slice(480, 540)].join('\n'),
    drive.filter((_, row) => row % 25 === 0).join('\n'),
    `# vehicle: test\n# fuel: E85\nTime;Engine speed;Lambda;Trouble code\ns;rpm;;\n0,0;900;1,00;\n0,1;905;1,01;P0171\n0,2;;0,99;P0300\n`,
    'Time\tRPM\tAFR\n0:00:00.000\t800\t14.7\n0:00:00.100\t820\t14.5\n0:00:00.050\t830\t14.6\n',
    'Timestamp,Engine Speed (rpm),Lambda\n2026-03-01T10:00:00.000Z,900,1.0\n2026-03-01T10:00:00.100Z,905,1.01\n2026-03-01T10:00:05Z,905,1.01\n',
    'time,channel,value,unit\n0,Engine Speed,900,rpm\n0,Lambda,1.0,\n0.1,Engine Speed,920,rpm\n0.1,MAP,45,kPa\n0.2,Lambda,0.98,λ\n',
    '900,1.0,45\n905,1.0,46\n910,0.99,45\n',
  ],
  tokens: [...HEADERS, 'rpm', 'psi', 'kPa gauge', 'P0171', 'U0100', 'p0300', '# ignore: time-gap\n', '# ignore: lean-under-load', '# logged-with: tables/ve.table.csv\n', '12:59:59.9', '2026-01-01T00:00:00Z', '31.12.2026 23:59', '1e9', 'N/A', 'R'],
};

/** Notes before and between the rows. */
export const NOTES: Grammar = {
  examples: [
    `# name: a drive\n# fuel: E10\n# rate: 25 Hz\n# barometer: 98.5 kPa\n# logged-with: tables/history/ve-1.table.csv\n# trouble-codes: P0171, P0300, U0100\n# ignore: knock\n${drive.slice(0, 8).join('\n')}\n# in between\n${drive.slice(8, 12).join('\n')}\n`,
    `#\n# \n#: x\n# key:\n# a: b: c\n${drive.slice(0, 4).join('\n')}`,
  ],
  tokens: ['# ', '#', '# ignore: ', '# ignore ', '# logged-with: ', '# trouble-codes: ', '# fuel: ', '# rate: ', '# barometer: ', 'Hz', 'kPa', 'E85', 'cell-lean', '../../x.table.csv', '/etc/x', 'C:\\x', 'P0171 P0172', 'P0171-00', 'B1234', 'pending', 'permanent'],
};

export const TABLE: Grammar = {
  examples: [
    SAMPLE_TABLE,
    '# quantity: mass air flow (g/s)\n# columns: mass air flow signal (V)\n,0,1,2,3,4,5\n,0,2.5,11.0,40.2,110,240\n',
    '# quantity: target AFR\n# columns: engine speed (rpm)\n# rows: manifold pressure (psi gauge)\n;800;1600;3200\n-10,0;14,7;14,7;14,0\n0;13,0;12,8;12,5\n10;11,8;11,5;11,4 # ignore target-unsafe\n',
    '# quantity: ignition advance (deg)\n# columns: engine speed (krpm)\n# rows: engine load (%)\n# ignore: cell-rough\n\t1\t2\t3\n20\t10\t20\t30\n80\t5\t12\t18\n',
    '# quantity: multiplier\n# columns: coolant temperature (°C)\n,-20,0,20,80\n,1.4,1.3,1.1,1.0\n',
  ],
  tokens: ['# quantity: ', '# columns: ', '# rows: ', '# ignore: ', '# ignore cell-lean', 'volumetric efficiency (%)', 'fuel mass (mg)', 'injector pulse width (ms)', 'target lambda', 'target AFR', 'manifold pressure (psi gauge)', 'engine speed (rpm)', '42.0', '-1', ',,', '1,234.5'],
};

export const VEHICLE: Grammar = {
  examples: [
    SAMPLE_VEHICLE,
    `{
  "name": "Test coupe", // a comment
  "engine": { "displacementL": 1.998, "cylinders": 4, "revLimitRpm": 7200, "aspiration": "supercharged", "maxManifoldPressureKPa": 190 },
  "fuel": { "stoichAfr": 14.1 },
  "injectors": { "flowCcPerMin": 650, "ratedPressureKPa": 300, "maxDutyPercent": 85 },
  "lambdaSensor": { "range": [0.65, 1.60], "mount": "upstream", "transportDelay": [[5, 0.2], [40, 0.06]] },
  "channels": { "WB2 volts": { "quantity": "lambda", "scale": [[0.5, 0.70], [4.5, 1.30]] } },
  "tables": { "fuel": "tables/ve.table.csv", "target": "tables/target.table.csv" },
  "sessions": ["sessions/*.session.csv", { "files": "old/*.csv", "loggedWith": "tables/history/ve-1.table.csv" }],
  "limits": { "leanUnderLoad": 0.05, "knockRetardDeg": 2 }
}
`,
    '{}', '[]', 'null', '{"sessions":[]}',
  ],
  tokens: ['"name"', '"engine"', '"fuel"', '"blend"', '"E85"', '"injectors"', '"lambdaSensor"', '"channels"', '"tables"', '"sessions"', '"limits"', '"files"', '"loggedWith"', '"scale"', '"quantity"', '"unit"', '"transportDelay"', '"estimate"', '"__proto__"',
    '"**/*"', '"../x"', '"*a*a*a*a*b"', '"{a,b}{c,d}"', '"+(a|b)+"', '"[[:alpha:]]"', '"!(x)"', '//', '/*', '*/', '\\u0000', '\\', '1e400', '-1', '[[', ']]', '{{', ',', 'true', 'null', '"tables/ve.table.csv"'],
};

export const CANDUMP: Grammar = {
  examples: [
    frameLines([{ id: '7DF', payload: '010C' }, { id: '7E8', payload: '410C1AF8' }, { id: '7E8', payload: '410D3C' }, { id: '7E8', payload: '41247FFF7FFF' }, { id: '7E8', payload: '4304017101720300' + '0420' }, { id: '7E8', payload: '410B2D' }, { id: '7E9', payload: '410C1AF8' }]),
    frameLines(Array.from({ length: 40 }, (_, at) => ({ id: '7E8', payload: ['410C1AF8', '410B2D', '410555', '41343FFF8000', '410E80'][at % 5]! })), 50_000),
    '(1700000000.123456) can0 7E8#03410C1AF8\n(1700000000.223456) can0 18DAF110#03410C1AF8AAAAAAAA\n# a note\n(1700000000.323456) can0 7E8##1064102030405\n',
  ],
  tokens: ['(1700000000.123456) ', 'can0 ', '7E8#', '7DF#', '18DAF110#', '##0', '#R', '10', '21', '2F', '30000A', '0341', '0643', '0247', '024A', '7F0112', '(9999999999.999999)', '(0.000000)', 'FFFFFFFF', ' R', ' T', 'AA'],
};

/** Codes one by one, and in lists. */
export const CODES: Grammar = {
  examples: ['P0171', 'p0300', 'U0100', 'P0171-00', 'P0171;P0172', 'B1234 (pending)', '0171', 'P01', 'PFFFF'],
  tokens: ['P', 'C', 'B', 'U', '0', '1', '2', '3', 'A', 'F', '-', ' ', 'P0171', 'stored', 'permanent'],
};

/** Globs and paths as a vehicle file names them. */
export const GLOBS: Grammar = {
  examples: ['sessions/*.session.csv', '**/*.csv', '{a,b}/{c,d}*.csv', 'sessions/[0-9]*.csv', '!(x)/*.csv', '+(a|b)/x.csv', '../x', 'C:\\x', 'a/./b/../c.csv', '@(a|b)?(c).csv'],
  tokens: ['*', '**', '/', '..', '{', '}', ',', '[', ']', '(', ')', '|', '!', '+', '?', '@', '\\', '[:alpha:]', '{1..9}', '{a..z}', 'a', '.csv', '%2e%2e/', ':', '//'],
};
