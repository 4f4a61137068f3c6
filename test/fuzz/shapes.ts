// Whole files of one shape each, as large as asked: what makes work grow faster than a file does, laid out on purpose instead of drawn.

import { sampleDrive } from '../support/sampleDrive.js';

export interface Shape {
  /** The target that is fed with it (targets.ts). */
  readonly target: 'session' | 'candump' | 'table' | 'vehicle';
  readonly name: string;
  /** A text of about so many characters. */
  readonly text: (length: number) => string;
}

/** Rows until the length is reached. */
const rows =
  (head: string, row: (at: number) => string) =>
  (length: number): string => {
    const lines = [head];
    for (let size = head.length, at = 0; size < length; at++) {
      const line = row(at);
      lines.push(line);
      size += line.length + 1;
    }
    return lines.join('\n');
  };

/** Of `count` columns, each header another. */
const wide = (count: number, header: (column: number) => string, cell: (row: number, column: number) => string, stepS = 0.1) =>
  rows(['Time (s)', ...Array.from({ length: count }, (_, column) => header(column))].join(','), (row) =>
    [(row * stepS).toFixed(6), ...Array.from({ length: count }, (_, column) => cell(row, column))].join(','),
  );

const ENGINE = 'Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%),Lambda (λ)';
/** A drive's rows with a time and a lambda of one's own. */
const engine = (timeS: (row: number) => number, cells: (row: number) => readonly (number | string)[], head = ENGINE) =>
  rows(head, (row) => [Number(timeS(row).toFixed(9)), ...cells(row)].join(','));
/** Wanders between two ends, the same each run. */
const wander = (row: number, low: number, high: number, slowness = 50): number =>
  low + (high - low) * (0.5 + 0.5 * Math.sin(row / slowness) * Math.sin(row / (slowness * 3.7)) + 0.001 * ((row * 7919) % 13));
const steady = (row: number): readonly (number | string)[] => [
  Math.round(wander(row, 900, 6500)),
  wander(row, 30, 180).toFixed(1),
  wander(row, 0, 100).toFixed(1),
  wander(row, 0.75, 1.2).toFixed(3),
];
const withLambda = (row: number, lambda: number | string): readonly (number | string)[] => [...steady(row).slice(0, 3), lambda];
const drive = sampleDrive()
  .split('\n')
  .slice(1)
  .filter((line) => line !== '')
  .map((line) => line.slice(line.indexOf(',') + 1));
const driveHead = sampleDrive().split('\n')[0]!;

const BLANKS = ' '.repeat(20_000);

const SESSIONS: Readonly<Record<string, (length: number) => string>> = {
  'a thousand columns': wide(
    1000,
    (column) => `Channel ${column}`,
    (row, column) => String((row * 31 + column) % 97),
  ),
  'a thousand engine columns of one name': wide(
    1000,
    () => 'Lambda (λ)',
    (row, column) => (0.8 + ((row * 31 + column) % 40) / 100).toFixed(2),
  ),
  'a thousand columns, all empty but one': wide(
    1000,
    (column) => `Channel ${column}`,
    (row, column) => (column === row % 1000 ? '1' : ''),
  ),
  'a thousand columns of long cells': wide(
    1000,
    (column) => `Lambda ${column} (λ)`,
    (row, column) => `${' '.repeat(200)}${(0.8 + ((row * 31 + column) % 40) / 100).toFixed(2)}`,
  ),
  'a thousand columns of long words': wide(
    1000,
    (column) => `Lambda ${column} (λ)`,
    (row, column) => `${'x'.repeat(200)}${row}${column}`,
  ),
  'ten thousand columns of a hundred rows': (length) =>
    wide(
      10000,
      (column) => `C${column}`,
      () => 'x'.repeat(length / 1_000_000),
    )(length),
  'a header alone': (length) => `Time (s)${Array.from({ length: length / 12 }, (_, column) => `,C${column} (rpm)`).join('')}\n`,
  'one row of commas': (length) => `Time (s),Lambda\n0,1\n${','.repeat(length)}\n1,1\n`,
  'one line without an end': (length) => `Time (s),Lambda\n0,1\n1,${'x'.repeat(length)}`,
  'quotes alone': (length) => `Time (s),Lambda\n0,1\n1,${'"'.repeat(length)}\n2,1\n`,
  'an odd quote in each row': rows('Time (s),Lambda,Note', (row) => `${row},1.0,"a`),
  'quoted cells of two lines': rows('Time (s),Lambda,Note', (row) => `${row},1.0,"a\nb"`),
  'words for numbers': rows('Time (s),Lambda,Engine Speed (rpm)', (row) => `${row},w${row},x${row}`),
  'words for times': rows('Time (s),Lambda,Engine Speed (rpm)', (row) => `t${row},1.0,900`),
  'each row of another length': rows('Time (s),Lambda,Engine Speed (rpm)', (row) => `${row},1${',2'.repeat(row % 9)}`),
  'notes between the rows': rows('Time (s),Lambda', (row) => (row % 2 ? `# note ${row}: x` : `${row},1.0`)),
  'notes before the header': (length) => `${rows('# a: b', (row) => `# key ${row}: value`)(length)}\n${sampleDrive()}`,
  'silenced codes': (length) => `${rows('# a: b', () => '# ignore: lean-under-load, knock, time-gap')(length)}\n${sampleDrive()}`,
  'long blanks behind each number': rows('Time (s),Lambda,Note', (row) => `${row},1.0${BLANKS},w${BLANKS}`),
  'long blanks within a cell': rows('Time (s),Lambda,Note', (row) => `${row},1.0${BLANKS}x,w`),
  'long blanks within quotes': rows('Time (s),Lambda,Note', (row) => `${row},"${BLANKS}1.0${BLANKS}x","w${BLANKS}"`),
  'blank lines': (length) => `${ENGINE}\n${'\n'.repeat(length)}0,900,30,1,1\n`,
  'a trouble code of its own in each row': rows(
    'Time (s),Engine Speed (rpm),Trouble Code',
    (row) => `${row / 10},900,P${(row % 10000).toString().padStart(4, '0')}`,
  ),
  'a step back in each row': engine((row) => -row, steady),
  'a step back in each second row': engine((row) => (row % 2) * 0.1, steady),
  'a step back in each fifth row, lambda at its end': engine(
    (row) => (row % 5) * 0.1,
    (row) => withLambda(row, row % 2 ? 1.6 : (0.9 + (row % 7) / 100).toFixed(2)),
  ),
  'a step back after each second': engine((row) => (row % 10) * 0.1, steady),
  'a gap in each row': engine((row) => row * 60 + (row % 3), steady),
  'a gap after each ten rows': engine((row) => row * 0.05 + Math.floor(row / 10) * 30, steady),
  'the same time in each row': engine(() => 1, steady),
  'a microsecond a row': engine((row) => row * 1e-6, steady),
  'a nanosecond a row': engine((row) => row * 1e-9, steady),
  'a day a row': engine((row) => row * 86400, steady),
  'ten years a row': engine((row) => row * 3.2e8, steady),
  'a second a row, then microseconds': engine((row) => (row < 2000 ? row : 2000 + row * 1e-6), steady),
  'microseconds, then a day a row': engine((row) => (row < 4000 ? row * 1e-6 : row * 86400), steady),
  'lambda from end to end in each row': engine(
    (row) => row * 0.1,
    (row) => withLambda(row, row % 2 ? 1.6 : 0.65),
  ),
  'lambda at its end in each third row': engine(
    (row) => row * 0.1,
    (row) => withLambda(row, row % 3 ? (0.9 + (row % 11) / 100).toFixed(2) : 1.6),
  ),
  'a fuel cut again and again, lambda at its stop': engine(
    (row) => row * 0.1,
    (row) =>
      row % 40 < 12
        ? [3000 + (row % 7), 25, 0, 1.6]
        : [3000 + (row % 9), wander(row, 40, 90).toFixed(1), wander(row, 10, 60).toFixed(1), (0.9 + (row % 2) / 50).toFixed(2)],
  ),
  'lambda leaves now and then': engine(
    (row) => row * 0.1,
    (row) => withLambda(row, row % 3 ? (0.9 + (row % 11) / 100).toFixed(2) : ''),
  ),
  'lambda flat': engine(
    (row) => row * 0.1,
    (row) => withLambda(row, 1),
  ),
  'a level for three rows each': engine(
    (row) => row * 0.1,
    (row) => withLambda(row, (0.8 + (Math.floor(row / 3) % 40) / 100).toFixed(2)),
  ),
  'a pull each second': engine(
    (row) => row * 0.02,
    (row) => [2000 + (row % 50) * 90, row % 50 < 40 ? 180 : 30, row % 50 < 40 ? 100 : 0, (0.78 + (row % 9) / 50).toFixed(3)],
  ),
  'throttle from end to end in each row': engine(
    (row) => row * 0.05,
    (row) => [3000, row % 2 ? 30 : 180, row % 2 ? 0 : 100, '0.9'],
  ),
  'the engine off and on in each row': engine(
    (row) => row * 0.1,
    (row) => [row % 2 ? 0 : 900, 40, 2, '1.0'],
  ),
  'the engine off and on in each fifty rows': engine(
    (row) => row * 0.1,
    (row) => [row % 50 < 10 ? 0 : 900 + (row % 13), 40, 2, (1 + (row % 7) / 100).toFixed(2)],
  ),
  'the sample drive again and again': rows(driveHead, (row) => `${(row * 0.04).toFixed(2)},${drive[row % drive.length]!}`),
  'the sample drive, a recording each': rows(
    driveHead,
    (row) => `${((row % drive.length) * 0.04).toFixed(2)},${drive[row % drive.length]!}`,
  ),
  'the sample drive in microseconds': rows(driveHead, (row) => `${(row * 1e-5).toFixed(6)},${drive[row % drive.length]!}`),
  'knock, duty and heat in each second row': engine(
    (row) => row * 0.1,
    (row) => [...steady(row), row % 2 ? 6 : 0, row % 2 ? 99 : 40, row % 2 ? 130 : 80, row % 2 ? 90 : 20, row % 2 ? 100 : 300],
    `${ENGINE},Knock Retard (deg),Injector Duty (%),Coolant Temperature (°C),Intake Air Temperature (°C),Fuel Pressure (kPa gauge)`,
  ),
  'all channels there are': engine(
    (row) => row * 0.05,
    (row) => [
      ...steady(row),
      5,
      -3,
      ...[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11].map((at) => wander(row, 1 + at, 90 + at, 30 + at).toFixed(2)),
    ],
    `${ENGINE},STFT (%),LTFT (%),Lambda 2,Target Lambda,Coolant Temperature (°C),Intake Air Temperature (°C),Ignition Advance (deg),Fuel Pressure (kPa gauge),Oil Pressure (kPa gauge),Mass Air Flow (g/s),Vehicle Speed (km/h),Gear,Pedal (%),Injector Pulse Width (ms)`,
  ),
  'ignition from end to end': engine(
    (row) => row * 0.1,
    (row) => [...steady(row), row % 2 ? 30 : 0, row % 4 ? 5 : 0],
    `${ENGINE},Ignition Advance (deg),Vehicle Speed (km/h)`,
  ),
  'a gear in each row': engine(
    (row) => row * 0.1,
    (row) => [...steady(row), row % 6, 20 + (row % 100)],
    `${ENGINE},Gear,Vehicle Speed (km/h)`,
  ),
  'long form': rows(
    'time,channel,value,unit',
    (row) =>
      `${(row / 100).toFixed(2)},${['Engine Speed', 'Lambda', 'MAP', 'Throttle'][row % 4]!},${[900, 1, 45, 3][row % 4]! + (row % 5) / 10},${['rpm', 'λ', 'kPa', '%'][row % 4]!}`,
  ),
  'long form, a channel of its own in each row': rows('time,channel,value,unit', (row) => `${row / 100},Channel ${row},1,`),
  'long form, a thousand channels': rows('time,channel,value,unit', (row) => `${Math.floor(row / 1000)},Channel ${row % 1000},${row % 7},`),
  'long form, times back and forth': rows(
    'time,channel,value,unit',
    (row) => `${(row * 7919) % 1000},${row % 2 ? 'Engine Speed' : 'Lambda'},${row % 7},`,
  ),
  'long form, a step back in each row': rows('time,channel,value,unit', (row) => `${-row},Engine Speed,900,rpm`),
  'long form, the same time': rows('time,channel,value,unit', (row) => `1,${row % 2 ? 'Engine Speed' : 'Lambda'},${row % 7},`),
  'long form, units that change': rows('time,channel,value,unit', (row) => `${row / 100},Lambda,1,u${row}`),
  'times of the clock': rows(
    'Time,Lambda,Engine Speed (rpm)',
    (row) => `${Math.floor(row / 3600)}:${Math.floor(row / 60) % 60}:${row % 60}.5,1.0,900`,
  ),
  'times of the calendar, back each row': rows(
    'Time,Lambda,Engine Speed (rpm)',
    (row) => `2026-03-01T10:00:${(59 - (row % 60)).toString().padStart(2, '0')}Z,1.0,900`,
  ),
  'decimal commas': rows('Time (s);Lambda;Engine Speed (rpm)', (row) => `${row / 10};1,${row % 9};9${row % 100}`.replace('.', ',')),
  thousands: rows('Time (s),Lambda,Engine Speed (rpm)', (row) => `${row / 10},1.0,"1,${100 + (row % 900)}"`),
};

const grid = (
  columns: number,
  cell: (row: number, column: number) => string,
  axis = (at: number): string => String(500 + 10 * at),
  head = '# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)',
) =>
  rows(`${head}\n,${Array.from({ length: columns }, (_, column) => axis(column)).join(',')}`, (row) =>
    [axis(row), ...Array.from({ length: columns }, (_, column) => cell(row, column))].join(','),
  );
const TABLES: Readonly<Record<string, (length: number) => string>> = {
  'five hundred columns': grid(500, (row, column) => String(30 + ((row + column) % 60))),
  'five hundred columns, rough': grid(500, (row, column) => String((row * 7919 + column * 104729) % 150)),
  'five hundred columns of words': grid(500, (row, column) => `w${row + column}`),
  'one column': grid(1, (row) => String(30 + (row % 60))),
  'one row': (length) =>
    `# quantity: mass air flow (g/s)\n# columns: mass air flow signal (V)\n,${Array.from({ length: length / 12 }, (_, at) => at).join(',')}\n,${Array.from({ length: length / 12 }, (_, at) => at).join(',')}\n`,
  'an axis that goes up and down': grid(
    20,
    () => '50',
    (at) => String(at % 2),
  ),
  'each row of another length': rows(
    '# quantity: multiplier\n# columns: engine speed (rpm)\n,1,2,3',
    (row) => `${row}${',1'.repeat(row % 11)}`,
  ),
  'notes alone': rows('# quantity: multiplier', (row) => `# note ${row}: x`),
  'five hundred columns, each row silenced': grid(
    500,
    (row, column) => `${(row * 7919 + column * 104729) % 150}${column === 499 ? ' # ignore cell-lean' : ''}`,
  ),
  'five hundred columns, half of them blank': grid(500, (row, column) => ((row + column) % 2 ? '50' : '')),
  'five hundred columns, all blank': grid(500, () => ''),
  'long blanks about each number': grid(8, () => `${BLANKS}50${BLANKS}`),
  'long blanks within a cell': grid(8, () => `50${BLANKS}x`),
  'quotes alone': (length) => `# quantity: multiplier\n,1,2\n1,${'"'.repeat(length)}\n`,
  'one line without an end': (length) => `# quantity: multiplier\n,1,2\n1,${'5'.repeat(length)}`,
};

const entries =
  (key: string, entry: (at: number) => string) =>
  (length: number): string =>
    `{ ${key}: ${rows('[', (at) => `${entry(at)},`)(length)} null ] }`;
const VEHICLES: Readonly<Record<string, (length: number) => string>> = {
  'a list of sessions': entries('"sessions"', (at) => `"sessions/${at}.session.csv"`),
  'globs with stars': entries('"sessions"', () => '"*a*a*a*/*.csv"'),
  pins: entries('"sessions"', (at) => `{ "files": "s${at}.csv", "loggedWith": "tables/${at}.table.csv" }`),
  channels: (length) => `{ "channels": {${rows('', (at) => `"C${at}": { "quantity": "nothing" },`)(length)} "x": {} } }`,
  'keys that nobody knows': (length) => `{${rows('', (at) => `"k${at}": ${at},`)(length)} "x": 1 }`,
  depth: (length) => `{ "sessions": ${'['.repeat(length)}`,
  'one long text': (length) => `{ "name": "${'\\u0000'.repeat(length / 6)}" }`,
};

const frame = (timeS: number, id: string, data: string): string => `(${(1_700_000_000 + timeS).toFixed(6)}) can0 ${id}#${data}`;
const CAPTURES: Readonly<Record<string, (length: number) => string>> = {
  answers: rows('', (row) =>
    frame(row / 1000, '7E8', ['03410C1AF8', '03410B2D', '03410555', '06413 43FFF8000'.replace(' ', ''), '03410E80'][row % 5]!),
  ),
  'an address of its own in each line': rows('', (row) =>
    frame(row / 1000, (0x18da0000 + (row % 0xffff)).toString(16).toUpperCase(), '03410C1AF8'),
  ),
  'messages that never end': rows('', (row) => frame(row / 1000, (0x700 + (row % 256)).toString(16).toUpperCase(), '1FFF430101020304')),
  'a message of four kilobytes, again and again': rows('', (row) =>
    frame(row / 1000, '7E8', row % 586 === 0 ? '1FFF430101020304' : `2${((row % 586) % 16).toString(16).toUpperCase()}01010201030104`),
  ),
  codes: rows('', (row) => frame(row / 1000, '7E8', `064302${(row % 65536).toString(16).padStart(4, '0').toUpperCase()}0420`)),
  'a step back in each line': rows('', (row) => frame(-row / 1000, '7E8', '03410C1AF8')),
  'the same time': rows('', (row) => frame(0, '7E8', ['03410C1AF8', '03410B2D'][row % 2]!)),
  'a day a line': rows('', (row) => frame(row * 86400, '7E8', '03410C1AF8')),
  'nothing of use': rows('', (row) => `line ${row}`),
};

const all = (target: Shape['target'], texts: Readonly<Record<string, (length: number) => string>>): Shape[] =>
  Object.entries(texts).map(([name, text]) => ({ target, name, text }));
export const SHAPES: readonly Shape[] = [
  ...all('session', SESSIONS),
  ...all('table', TABLES),
  ...all('vehicle', VEHICLES),
  ...all('candump', CAPTURES),
];
