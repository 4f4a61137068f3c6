// The limits of server/docs/limits.md: each is met by a file that has more, and each tells the user.

import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { sessionFindings, tableFindings, vehicleFindings } from '../../server/src/findings/check.js';
import type { Finding } from '../../server/src/findings/finding.js';
import { readCandump } from '../../server/src/formats/can/readCandump.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { FILES } from '../../server/src/protocol/files.js';
import { readVehicle } from '../../server/src/formats/vehicle/readVehicle.js';
import type { Session } from '../../server/src/formats/session/session.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { isTooDeep } from '../../server/src/formats/vehicle/jsonText.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { MOST_FILES } from '../../server/src/service/vehicleFolders.js';
import { vehicleHover } from '../../server/src/service/editor/vehicleHover.js';
import { withPins } from '../../server/src/service/vehiclePins.js';
import { rewritten } from '../../server/src/service/text.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { leanspot } from '../cli/run.js';
import { inFolder } from '../support/folder.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';
import { SAMPLE_TABLE, sampleDrive } from '../support/sampleDrive.js';
import { clientModule } from './clientModule.js';

const session = (read: Session): Finding[] => sessionFindings(analyse(read, EMPTY_VEHICLE));
const vehicle = (text: string): Finding[] => vehicleFindings(readVehicle(text));
const table = (text: string): Finding[] => tableFindings({ table: readTable(text), vehicle: undefined, evidence: undefined });
const HEAD = '# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n';
const numbers = (count: number): string => Array.from({ length: count }, (_, at) => at + 1).join(',');

/** Each: what is too much, the code that tells it, and the number or word that the message holds. */
const MET: readonly (readonly [what: string, findings: () => Finding[], code: string, says: RegExp])[] = [
  [
    'columns of a session',
    () =>
      session(
        readSession(
          textSource(`Time (s),${Array.from({ length: 1500 }, (_, at) => `c${at}`).join(',')}\n${`0,${numbers(1500)}\n`.repeat(3)}`),
        ),
      ),
    'row-ragged',
    /1501 columns.* 1024 .*477/,
  ],
  [
    'a row of a session',
    () => session(readSession(textSource(`Time (s),Engine Speed (rpm)\n0,900\n1,${'9'.repeat(5 << 20)}\n2,900\n`))),
    'row-ragged',
    /several megabytes/,
  ],
  [
    'a line of a capture',
    () =>
      session(
        readCandump(
          textSource(
            `(1760000000.000000) can0 7E8#04410C1AF8AAAAAA\n(1760000000.100000) can0 7E8#${'A'.repeat(3000)}\n(1760000000.200000) can0 7E8#04410C1AF8AAAAAA\n`,
          ),
        ),
      ),
    'value-not-a-number',
    /no frame/,
  ],
  ['columns of a table', () => table(`${HEAD},${numbers(600)}\n30,${numbers(600)}\n45,${numbers(600)}\n`), 'row-ragged', /512|left out/],
  [
    'rows of a table',
    () => table(`${HEAD},800,1200\n${Array.from({ length: 600 }, (_, at) => `${at + 1},42,43\n`).join('')}`),
    'row-ragged',
    /512|left out/,
  ],
  ['the length of vehicle.json', () => vehicle(`{ "name": "${'x'.repeat(200_001)}" }`), 'vehicle-invalid', /200\D?000/],
  ['levels of vehicle.json', () => vehicle(`{ "name": ${'['.repeat(70)}${']'.repeat(70)} }`), 'vehicle-invalid', /64/],
  ['wildcards', () => vehicle('{ "sessions": ["**/*a*a*a*a*b.csv"] }'), 'vehicle-invalid', /4|wildcard/],
  [
    'findings of one code',
    () =>
      session(
        readSession(
          textSource(
            `Time (s),Engine Speed (rpm),Lambda\n${Array.from({ length: 3000 }, (_, at) => `${at},${at % 3 === 1 ? 'x' : 900},1\n`).join('')}`,
          ),
        ),
      ),
    'value-not-a-number',
    /more/,
  ],
  [
    'findings of one code on a table',
    () =>
      table(
        `${HEAD},${numbers(100)}\n${Array.from({ length: 100 }, (_, row) => `${row + 1},${Array.from({ length: 100 }, (_, column) => ((row + column) % 2 ? 90 : 40)).join(',')}\n`).join('')}`,
      ),
    'cell-rough',
    /And \d+ more like this/,
  ],
];

suite('trust: limits', () => {
  const page = readFileSync(fileURLToPath(new URL('../../server/docs/limits.md', import.meta.url)), 'utf8');

  for (const [what, findings, code, says] of MET) {
    test(`${what}: more than there is room for is told`, () => {
      const told = findings()
        .filter((finding) => finding.code === code)
        .map(({ message }) => message);
      assert.ok(
        told.some((message) => says.test(message)),
        `${code} ${says} in:\n${told.join('\n')}`,
      );
    });
  }

  test('sessions of a vehicle: those beyond are no evidence, and its file and the commands that weigh say so', async () => {
    const workspace = memoryWorkspace('=== vehicle.json\n{ "tables": { "fuel": "ve.table.csv" } }\n');
    for (let at = 0; at < MOST_FILES + 12; at++)
      workspace.write(`sessions/${String(at).padStart(5, '0')}.session.csv`, 'Time (s),Engine Speed (rpm)\n0,900\n');
    workspace.write('ve.table.csv', SAMPLE_TABLE);
    const service = createLanguageService(workspace);
    const folder = (await service.vehicleFolder(workspace.uri('vehicle.json')))!;
    const taken = await service.weighedSessions(folder);
    assert.deepEqual([taken.length, taken.at(-1)], [MOST_FILES, workspace.uri('sessions/04999.session.csv')]);
    const { findings } = (await service.check(workspace.uri('vehicle.json')))!;
    assert.deepEqual(
      findings.map(({ code, severity }) => [code, severity]),
      [['vehicle-invalid', 'warning']],
    );
    assert.match(findings[0]!.message, /has 5012 sessions\. The first 5000 by path are read, 12 more are left out/);
  });

  test('on the command line a line says it', () =>
    inFolder(`=== vehicle.json\n{}\n=== ve.table.csv\n${SAMPLE_TABLE}=== sessions/00000.session.csv\n${sampleDrive()}`, async (cwd) => {
      // Empty files are sessions that say nothing.
      for (let at = 1; at <= MOST_FILES; at++) writeFileSync(join(cwd, `sessions/${String(at).padStart(5, '0')}.session.csv`), '');
      const { stderr, status } = await leanspot(['weigh', 've.table.csv', '--format', 'csv'], { cwd });
      assert.equal(status, 0, stderr);
      assert.match(stderr, /^leanspot: This vehicle has 5001 sessions\. The first 5000 by path are read, 1 more is left out/m);
    })).timeout(120_000);

  test('a folder on no disk: more files or levels than are looked at is said once, and what is not open is not read', async () => {
    const { answerForFiles } = await clientModule<{
      answerForFiles(
        client: { onRequest(method: string, answer: (params: { uri: string }) => Promise<unknown>): void },
        pages: string,
        asText: boolean,
      ): void;
    }>(
      'files.ts',
      `
      export const FileType = { File: 1, Directory: 2 };
      export const l10n = { t: (text, ...values) => text.replace(/\\{(\\d)\\}/g, (_, at) => values[at]) };
      export const Uri = { parse: (path) => ({ path, toString: () => path }), joinPath: (uri, part) => ({ path: uri.path + '/' + part }) };
      export const window = { showWarningMessage: (text) => { globalThis.toldByClient.push(text); } };
      export const workspace = { getWorkspaceFolder: ({ path }) => (path.startsWith('pages/') ? undefined : {}), asRelativePath: ({ path }) => path, fs: { stat: async () => ({ type: 1, mtime: 1, size: 2 }), readDirectory: async ({ path }) => path.startsWith('wide') ? Array.from({ length: 60000 }, (_, at) => [at + '.csv', 1]) : [['deeper', 2], ['a.csv', 1]] } };`,
    );
    const told: string[] = [];
    Object.assign(globalThis, { toldByClient: told });
    const answers = new Map<string, (params: { uri: string }) => Promise<unknown>>();
    answerForFiles(
      {
        onRequest: (method, answer) => {
          answers.set(method, answer);
        },
      },
      'pages/',
      false,
    );
    // Beside the open folders the findings' pages, and nothing by way of them.
    const stamp = (uri: string): Promise<unknown> => answers.get(FILES.stamp)!({ uri });
    assert.deepEqual(await Promise.all(['pages/knock.md', 'pages/../../key.md', 'pages/%2e%2e/key.md', 'pages/'].map(stamp)), [
      '1:2',
      null,
      null,
      null,
    ]);
    const list = async (uri: string): Promise<number> => ((await answers.get(FILES.list)!({ uri })) as string[]).length;
    assert.deepEqual([await list('wide'), await list('wide'), await list('deep')], [50_000, 50_000, 40]);
    assert.deepEqual(
      told,
      ['wide', 'deep'].map((name) => `${name} holds more than 50000 files or 40 levels of folders. The rest is not looked at.`),
    );
  });

  test('nesting that would run a parser out of stack is read by none: also behind a comment with a quote in it', () => {
    for (const text of [`{"a":${'['.repeat(90_000)}`, `{"a":/*"*/${'['.repeat(90_000)}`, `{"a"://"\n${'{"b":'.repeat(30_000)}`]) {
      assert.ok(
        vehicle(text).some(({ message }) => /64/.test(message)),
        text.slice(0, 20),
      );
      assert.equal(withPins(text, [{ files: 'a', loggedWith: 'b' }]), undefined);
      assert.equal(vehicleHover(text, { line: 0, character: 2 }), undefined);
    }
    assert.equal(isTooDeep(`{ /* ${'['.repeat(100)} " */ "a": [1] } // ${'{'.repeat(100)}`), false);
  });

  test('a text too long to be read whole is not written again', () => {
    assert.equal(
      rewritten(textSource('x'.repeat((32 << 20) + 1)), (text) => text),
      undefined,
    );
  });

  test('the page names the numbers in force', async () => {
    const sources: readonly [file: string, name: string, shown: string][] = [
      ['formats/session/places.ts', 'MOST_COLUMNS = 1024', '| 1024 |'],
      ['formats/csv/readRows.ts', 'LONGEST_LINE_BYTES = 4 << 20', '| 4 MB |'],
      ['formats/can/lines.ts', 'LONGEST_LINE_BYTES = 1024', '| 1024 bytes |'],
      ['formats/table/tableText.ts', 'MOST_BREAKPOINTS = 512', '| 512 each |'],
      ['service/text.ts', 'MOST_BYTES = 32 << 20', '| 32 MB read |'],
      ['formats/vehicle/readVehicle.ts', 'MOST_CHARACTERS = 200_000', '| 200 000 characters, 64 levels |'],
      ['formats/vehicle/jsonText.ts', 'MOST_LEVELS = 64', '64 levels'],
      ['formats/vehicle/folderPath.ts', 'MOST_WILDCARDS = 4', '| 4, or what costs as much |'],
      ['service/vehicleFolders.ts', 'MOST_LEVELS = 40', '| 40, and not'],
      ['service/vehicleFolders.ts', 'MOST_FILES = 5000', '| 5000 each |'],
      ['../../client/src/files.ts', 'MOST_FILES = 50_000', '| 50 000, 40 levels |'],
      ['lsp/server.ts', 'LONG_TEXT = 1 << 20', 'session of a megabyte'],
      ['lsp/scanner.ts', 'RESTS_MS = 400', 'for 0.4 s'],
      ['lsp/scanner.ts', 'RESTLESS_MS = 3000', 'after 3 s'],
      ['service/followEdits.ts', 'MOST_LINES = 2000', 'more than 2000 lines'],
      ['findings/check.ts', 'MOST_OF_A_CODE = 10', '| 10, of a vehicle file 50, of a table 1000 |'],
      ['findings/check.ts', 'MOST_IN_A_TABLE = 1000', 'of a table 1000 |'],
      ['cli/output/sarif.ts', 'MOST_RESULTS = 5000', '| 5000, the worst first |'],
      ['service/views/traceAnswers.ts', 'MOST_CSV_ROWS = 200_000', '| 200 000 |'],
    ];
    for (const [file, name, shown] of sources) {
      assert.ok(
        readFileSync(fileURLToPath(new URL(`../../server/src/${file}`, import.meta.url)), 'utf8').includes(name),
        `${file}: ${name}`,
      );
      assert.ok(page.includes(shown), shown);
    }
  });
});
