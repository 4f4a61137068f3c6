// The limits of server/docs/limits.md: each is met by a file that has more, and each tells the user.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { sessionFindings, tableFindings, vehicleFindings } from '../../server/src/findings/check.js';
import type { Finding } from '../../server/src/findings/finding.js';
import { readCandump } from '../../server/src/formats/can/readCandump.js';
import { readSession } from '../../server/src/formats/readSession.js';
import { readTable } from '../../server/src/formats/readTable.js';
import { readVehicle } from '../../server/src/formats/readVehicle.js';
import type { Session } from '../../server/src/formats/session.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle.js';
import { isTooDeep } from '../../server/src/formats/jsonText.js';
import { vehicleHover } from '../../server/src/service/vehicleHover.js';
import { withPins } from '../../server/src/service/vehiclePins.js';
import { rewritten } from '../../server/src/service/text.js';
import { analyse } from '../../server/src/signals/analyse.js';

const session = (read: Session): Finding[] => sessionFindings(analyse(read, EMPTY_VEHICLE));
const vehicle = (text: string): Finding[] => vehicleFindings(readVehicle(text));
const table = (text: string): Finding[] => tableFindings({ table: readTable(text), vehicle: undefined, evidence: undefined });
const HEAD = '# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n';
const numbers = (count: number): string => Array.from({ length: count }, (_, at) => at + 1).join(',');

/** Each: what is too much, the code that tells it, and the number or word that the message holds. */
const MET: readonly (readonly [what: string, findings: () => Finding[], code: string, says: RegExp])[] = [
  ['columns of a session', () => session(readSession(textSource(`Time (s),${Array.from({ length: 1500 }, (_, at) => `c${at}`).join(',')}\n${`0,${numbers(1500)}\n`.repeat(3)}`))), 'row-ragged', /1501 columns.* 1024 .*477/],
  ['a row of a session', () => session(readSession(textSource(`Time (s),Engine Speed (rpm)\n0,900\n1,${'9'.repeat(5 << 20)}\n2,900\n`))), 'row-ragged', /several megabytes/],
  ['a line of a capture', () => session(readCandump(textSource(`(1760000000.000000) can0 7E8#04410C1AF8AAAAAA\n(1760000000.100000) can0 7E8#${'A'.repeat(3000)}\n(1760000000.200000) can0 7E8#04410C1AF8AAAAAA\n`))), 'value-not-a-number', /no frame/],
  ['columns of a table', () => table(`${HEAD},${numbers(600)}\n30,${numbers(600)}\n45,${numbers(600)}\n`), 'row-ragged', /512|left out/],
  ['rows of a table', () => table(`${HEAD},800,1200\n${Array.from({ length: 600 }, (_, at) => `${at + 1},42,43\n`).join('')}`), 'row-ragged', /512|left out/],
  ['the length of vehicle.json', () => vehicle(`{ "name": "${'x'.repeat(200_001)}" }`), 'vehicle-invalid', /200\D?000/],
  ['levels of vehicle.json', () => vehicle(`{ "name": ${'['.repeat(70)}${']'.repeat(70)} }`), 'vehicle-invalid', /64/],
  ['wildcards', () => vehicle('{ "sessions": ["**/*a*a*a*a*b.csv"] }'), 'vehicle-invalid', /4|wildcard/],
  ['findings of one code', () => session(readSession(textSource(`Time (s),Engine Speed (rpm),Lambda\n${Array.from({ length: 3000 }, (_, at) => `${at},${at % 3 === 1 ? 'x' : 900},1\n`).join('')}`))), 'value-not-a-number', /more/],
  ['findings of one code on a table', () => table(`${HEAD},${numbers(100)}\n${Array.from({ length: 100 }, (_, row) => `${row + 1},${Array.from({ length: 100 }, (_, column) => ((row + column) % 2 ? 90 : 40)).join(',')}\n`).join('')}`), 'cell-rough', /And \d+ more like this/],
];

suite('trust: limits', () => {
  const page = readFileSync(fileURLToPath(new URL('../../server/docs/limits.md', import.meta.url)), 'utf8');

  for (const [what, findings, code, says] of MET) {
    test(`${what}: more than there is room for is told`, () => {
      const told = findings().filter((finding) => finding.code === code).map(({ message }) => message);
      assert.ok(told.some((message) => says.test(message)), `${code} ${says} in:\n${told.join('\n')}`);
    });
  }

  test('nesting that would run a parser out of stack is read by none: also behind a comment with a quote in it', () => {
    for (const text of [`{"a":${'['.repeat(90_000)}`, `{"a":/*"*/${'['.repeat(90_000)}`, `{"a"://"\n${'{"b":'.repeat(30_000)}`]) {
      assert.ok(vehicle(text).some(({ message }) => /64/.test(message)), text.slice(0, 20));
      assert.equal(withPins(text, [{ files: 'a', loggedWith: 'b' }]), undefined);
      assert.equal(vehicleHover(text, { line: 0, character: 2 }), undefined);
    }
    assert.equal(isTooDeep(`{ /* ${'['.repeat(100)} " */ "a": [1] } // ${'{'.repeat(100)}`), false);
  });

  test('a text too long to be read whole is not written again', () => {
    assert.equal(rewritten(textSource('x'.repeat((32 << 20) + 1)), (text) => text), undefined);
  });

  test('the page names the numbers in force', async () => {
    const sources: readonly [file: string, name: string, shown: string][] = [
      ['formats/header.ts', 'MOST_COLUMNS = 1024', '| 1024 |'], ['formats/csv/readRows.ts', 'LONGEST_LINE_BYTES = 4 << 20', '| 4 MB |'], ['formats/can/lines.ts', 'LONGEST_LINE_BYTES = 1024', '| 1024 bytes |'],
      ['formats/tableText.ts', 'MOST_BREAKPOINTS = 512', '| 512 each |'], ['service/text.ts', 'MOST_BYTES = 32 << 20', '| 32 MB read |'], ['formats/readVehicle.ts', 'MOST_CHARACTERS = 200_000', '| 200 000 characters, 64 levels |'],
      ['formats/jsonText.ts', 'MOST_LEVELS = 64', '64 levels'], ['formats/folderPath.ts', 'MOST_WILDCARDS = 4', '| 4, or what costs as much |'], ['service/vehicleFolders.ts', 'MOST_LEVELS = 40', '| 40, and not'],
      ['findings/check.ts', 'MOST_OF_A_CODE = 10', '| 10, of a vehicle file 50, of a table 1000 |'], ['findings/check.ts', 'MOST_IN_A_TABLE = 1000', 'of a table 1000 |'], ['cli/output/sarif.ts', 'MOST_RESULTS = 5000', '| 5000, the worst first |'], ['service/trace.ts', 'MOST_CSV_ROWS = 200_000', '| 200 000 |'],
    ];
    for (const [file, name, shown] of sources) {
      assert.ok(readFileSync(fileURLToPath(new URL(`../../server/src/${file}`, import.meta.url)), 'utf8').includes(name), `${file}: ${name}`);
      assert.ok(page.includes(shown), shown);
    }
  });
});
