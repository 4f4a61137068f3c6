// A long session that drives as the sample car does: its hill climb at 50 Hz, again and again, no two rounds the same in the last digit.

import { readFileSync } from 'node:fs';

const HILL = new URL('../../samples/bramble-coupe/sessions/hill.session.csv', import.meta.url);
/** Columns in all, the clock among them. */
const COLUMNS = 24;
const STEP_S = 0.02;

/** About 50 MB at 400 000 rows, a megabyte at a time; the same every time for a seed. */
export function* drivePieces(rows: number, seed = 4711): Generator<string> {
  let state = seed;
  const random = (): number => (state = (Math.imul(state, 1664525) + 1013904223) >>> 0) / 2 ** 32;
  const [header, ...lines] = readFileSync(HILL, 'utf8')
    .split(/\r?\n/)
    .filter((line) => line !== '' && !line.startsWith('#'));
  const names = header.split(',');
  const digits = names.map((_, column) => lines[10].split(',')[column].split('.')[1]?.length ?? 0);
  const drive = lines.map((line) => line.split(',').map(Number)).filter((cells) => cells.length === names.length);
  const extra = Array.from({ length: COLUMNS - names.length }, (_, index) => `Aux ${index + 1} [V]`);
  let piece = `# fuel: E10\n${[...names, ...extra].join(',')}\n`;
  for (let row = 0; row < rows; row++) {
    // There and back again, so that the rounds join without a leap; between two rows of 25 Hz one is put.
    const place = row % (4 * drive.length - 4),
      along = (place < 2 * drive.length - 1 ? place : 4 * drive.length - 4 - place) / 2;
    const before = drive[Math.floor(along)],
      after = drive[Math.ceil(along)];
    piece += (row * STEP_S).toFixed(2);
    for (let column = 1; column < names.length; column++) {
      const value = (before[column] + after[column]) / 2,
        unit = 10 ** -digits[column];
      piece +=
        ',' +
        (digits[column] === 0 && before[column] !== after[column] && Math.abs(after[column] - before[column]) === 1
          ? before[column]
          : value + (value !== 0 && digits[column] > 0 ? (random() - 0.5) * 2 * unit : 0)
        ).toFixed(digits[column]);
    }
    for (let column = names.length; column < COLUMNS; column++)
      piece += ',' + (2.5 + 2 * Math.sin(row / (70 * (column - 10))) + random() * 0.1).toFixed(4);
    piece += '\n';
    if (piece.length > 1 << 20) {
      yield piece;
      piece = '';
    }
  }
  yield piece;
}
export const makeDriveBytes = (rows: number, seed = 4711): Uint8Array => new TextEncoder().encode([...drivePieces(rows, seed)].join(''));
