// The report and `check` never disagree: an error that one tells is an error of the other, and nothing is called fine that wants a look.

import assert from 'node:assert/strict';
import type { Finding, Severity } from '../../server/src/findings/finding.js';
import { RULES } from '../../server/src/findings/registry.js';
import { gather } from '../../server/src/report/gather.js';
import type { Report } from '../../server/src/report/model.js';
import { reportPage } from '../../server/src/report/page.js';
import { verdictOf } from '../../server/src/report/verdict.js';
import { scopeLines } from '../../server/src/service/scope.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { drawCase } from '../support/faults/draw.js';
import { runSeed, seeded, seedOf } from '../support/faults/random.js';
import { toCsv } from '../support/faults/recording.js';
import { memoryWorkspace, ROOT } from '../support/memoryWorkspace.js';
import { twoLoggerCar, twoLogs } from '../support/twoLoggerCar.js';
import { LEAN_CAR, SAMPLE_CAR, SAMPLE_TABLE, sampleDrive } from '../support/sampleDrive.js';

const OPTIONS = { date: '2026-09-16', version: '9.9.9' };

async function bothOf(fixture: string): Promise<{ report: Report; checked: readonly Finding[] }> {
  const workspace = memoryWorkspace(/^=== vehicle\.json$/m.test(fixture) ? fixture : `=== vehicle.json\n{}\n${fixture}`);
  const service = createLanguageService(workspace);
  const folder = await service.vehicleFolder(workspace.uri('vehicle.json'));
  assert.ok(folder);
  const checked: Finding[] = [];
  for (const { uri } of await service.filesBelow(ROOT)) checked.push(...((await service.check(uri))?.findings ?? []));
  return { report: await gather(workspace, service, folder, OPTIONS), checked };
}

function agree({ report, checked }: { report: Report; checked: readonly Finding[] }, what: string): void {
  const has = (severity: Severity): boolean => checked.some((finding) => finding.severity === severity);
  const { level, headline, sentences } = verdictOf(report),
    said = `${what}: ${headline}. ${sentences.join(' ')}\n${checked.map(({ severity, code }) => `${severity} ${code}`).join(', ')}`;
  assert.equal(level === 'stop', has('error'), said);
  if (level === 'look' || level === 'clear') assert.equal(level === 'look', has('warning'), said);
  // What was not judged stays in the headline, whatever else there is to say.
  const judged = report.sessions
    .flatMap(({ pulls }) => pulls)
    .some(({ pull }) => pull.worstLambda !== undefined && pull.worstTargetLambda !== undefined);
  assert.equal(level === 'unknown', !has('error') && !judged, said);
  assert.equal(/^Nothing unsafe was seen( where it could be judged)?$/.test(headline), !has('error') && !has('warning') && judged, said);
  assert.equal(reportPage(report).includes('No error and no warning in any file'), !has('error') && !has('warning'), said);
  assert.ok(
    sentences.every((sentence) => !/undefined|NaN|\bof 0\b/.test(sentence)),
    said,
  );
}

// Numbers by hand: 215 kPa of boost at λ 0.92, no target; pressure above what the owner allows; λ 0.69 for 0.80; oil pressure, which no
// finding judges.
const pull = (columns: Readonly<Record<string, (timeS: number) => number>>): string => {
  const all: typeof columns = {
    'engine speed (rpm)': (t) => (t < 4 ? 2200 : Math.min(6500, 2200 + 900 * (t - 4))),
    'manifold pressure (kPa)': (t) => (t < 4 ? 50 : Math.min(215, 50 + 330 * (t - 4))) + Math.sin(t * 17),
    'throttle (%)': (t) => (t < 4 ? 20 : 100) + 0.3 * Math.sin(t * 23),
    ...columns,
  };
  const rows = Array.from({ length: 180 }, (_, row) => [row / 20, ...Object.values(all).map((at) => at(row / 20).toFixed(3))].join(','));
  return `=== sessions/a.session.csv\ntime (s),${Object.keys(all).join(',')}\n${rows.join('\n')}\n`;
};
const lambda =
  (underLoad: number) =>
  (t: number): number =>
    (t < 4.5 ? 1 : underLoad) + 0.006 * Math.sin(t * 31);
const car = (vehicle: object, drive: string): string => `=== vehicle.json\n${JSON.stringify(vehicle)}\n${drive}`;

suite('report and check agree', function () {
  this.timeout(120000);

  test("on each rule's samples", async () => {
    for (const { code, sample } of RULES) for (const text of Object.values(sample())) agree(await bothOf(text), code);
  });

  test('on drives with faults planted in them, with and without a target', async () => {
    const seed = runSeed();
    const target =
      '=== tables/target.table.csv\n# quantity: target lambda\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n, 1000, 7000\n40, 1.00, 1.00\n90, 0.90, 0.88\n200, 0.82, 0.80\n';
    for (let at = 0; at < 8; at++) {
      const random = seeded(seedOf(seed, at));
      const tables = `${random.chance(0.5) ? `=== tables/ve.table.csv\n${SAMPLE_TABLE}` : ''}${random.chance(0.5) ? target : ''}`;
      const vehicle = `=== vehicle.json\n${JSON.stringify({ tables: { ...(tables.includes('ve.') ? { fuel: 'tables/ve.table.csv' } : {}), ...(tables.includes('target.') ? { target: 'tables/target.table.csv' } : {}) } })}\n`;
      const drives = [0, 1]
        .slice(random.chance(0.5) ? 1 : 0)
        .map((drive) => `=== sessions/${drive}.session.csv\n${toCsv(drawCase(seedOf(seed, 100 + 2 * at + drive), 90))}`)
        .join('');
      agree(await bothOf(`${vehicle}${tables}${drives}`), `LEANSPOT_SEED=${seed}, case ${at}`);
    }
  });

  test('what was not judged is said, and pulls are called what the findings call them', async () => {
    const turbo = { engine: { aspiration: 'turbocharged' } },
      blind = await bothOf(car(turbo, pull({ lambda: lambda(0.88) })));
    agree(blind, 'no target');
    assert.match(verdictOf(blind.report).sentences[0], /no target is logged .* only held against λ 0\.90 under boost/);
    assert.deepEqual(scopeLines([blind.report.sessions[0].scope!]), [
      'Full load: 1 pull held against λ 0.90 under boost and λ 1.00 else, assumed: no target is logged or named in vehicle.json.',
      'Not logged: knock retard, injector duty, fuel pressure, intake air temperature, coolant temperature.',
    ]);

    const over = await bothOf(
      car(
        { engine: { aspiration: 'turbocharged', maxManifoldPressureKPa: 180 } },
        pull({ lambda: lambda(0.8), 'target lambda': (t) => (t < 4.4 ? 1 : 0.8), 'oil pressure (kPa)': (t) => 60 + Math.sin(t * 13) }),
      ),
    );
    agree(over, 'over the limit');
    assert.match(verdictOf(over.report).sentences[0], /boost went above what vehicle\.json allows/);
    const finding = over.checked.find(({ data }) => data?.kind === 'over-limit');
    assert.ok(finding?.severity === 'warning' && Math.abs(Number(finding.data?.value) - 216) < 0.2, finding?.message);
    assert.deepEqual(over.report.sessions[0].scope!.notJudged, [['oil pressure (but for falls and next to none)', '59 to 61 kPa gauge']]);
    assert.ok(
      reportPage(over.report).includes('logged and not judged: oil pressure (but for falls and next to none) (59 to 61 kPa gauge)'),
    );
    assert.match(
      scopeLines([over.report.sessions[0].scope!]).join(' '),
      /1 pull held against their target\. .*Logged, not judged: oil pressure \(but for falls and next to none\)\./,
    );

    for (const [header, titles] of [
      ['EGT', ['exhaust gas temperature (no unit)']],
      ['EGT (°C)', []],
    ] as const) {
      const hot = await bothOf(car(turbo, pull({ lambda: lambda(0.8), [header]: (t) => 700 + 20 * Math.sin(t * 13) })));
      assert.deepEqual(
        hot.report.sessions[0].scope!.notJudged.map(([title]) => title),
        titles,
        header,
      );
    }

    const rich = await bothOf(car(turbo, pull({ lambda: lambda(0.69), 'target lambda': (t) => (t < 4.4 ? 1 : 0.8) })));
    agree(rich, 'rich');
    assert.equal(rich.report.sessions[0].pulls.length, 1);
    const page = reportPage(rich.report);
    assert.match(/<article[\s\S]*?<\/p>/.exec(page)![0], /▲ rich<\/span> \d+ to \d+ rpm, rich for \d\.\d s: λ 0\.6\d for 0\.80/);
    assert.ok(!/on target|within the limit/.test(page));
  });

  test('a drive with the table as it was before: what the table did is past once the present one was judged, what no table mends is not', async () => {
    const knocking = (drive: string): string =>
      drive
        .replace(/\n$/, '')
        .split('\n')
        .map((line, row) => `${line},${row === 0 ? 'Knock Retard (°)' : row > 560 && row < 600 ? '8.0' : '0.0'}`)
        .join('\n') + '\n';
    const history = async (old: string, now?: string): Promise<{ report: Report; checked: readonly Finding[] }> =>
      bothOf(`=== vehicle.json
{ "tables": { "fuel": "tables/ve.table.csv" }, "sessions": [{ "files": "sessions/old.session.csv", "loggedWith": "tables/history/ve-1.table.csv" }] }
=== tables/ve.table.csv
${SAMPLE_TABLE.replace('90.0', '91.0')}=== tables/history/ve-1.table.csv
${SAMPLE_TABLE}=== sessions/old.session.csv
${old}${now === undefined ? '' : `=== sessions/new.session.csv\n${now}`}`);
    const clean = sampleDrive({ leanest: 0.85, unrest: true }),
      lean = sampleDrive({ leanest: 0.97, unrest: true });

    const knocked = await history(knocking(clean), clean),
      verdict = verdictOf(knocked.report);
    agree(knocked, 'knock in the earlier drive, none logged in the later');
    assert.match(
      verdict.sentences.join(' '),
      /not safe at full throttle: the engine knocked\..* No more full throttle until the cause of the knock/,
    );

    const leanThen = await history(lean, clean),
      mended = verdictOf(leanThen.report);
    assert.deepEqual(
      leanThen.checked.filter(({ severity }) => severity === 'error').map(({ code }) => code),
      ['lean-under-load'],
    );
    assert.deepEqual(mended.sentences, verdictOf((await history(clean, clean.replace('88\n', '89\n'))).report).sentences);
    assert.ok(mended.level !== 'stop' && mended.details.some((line) => line.includes('as it was before, 1 error')), JSON.stringify(mended));
    const both = verdictOf((await history(knocking(lean), clean)).report);
    assert.match(both.sentences[0], /full throttle: the engine knocked\.$/);

    // Not driven since: the danger comes first, then the drive.
    const undriven = await history(lean);
    agree(undriven, 'lean, and the table changed since');
    assert.match(verdictOf(undriven.report).sentences[2], /^No more full throttle until .* changed after these drives/);
  });

  test('of a drive whose clock is in another unit nothing is believed', async () => {
    const milliseconds = sampleDrive().replace(/^\d+(\.\d+)?/gm, (text) => String(Math.round(1000 * Number(text))));
    const clocks = await bothOf(`=== a.session.csv\n${milliseconds}`),
      { level, sentences } = verdictOf(clocks.report);
    assert.equal(level, 'stop');
    assert.match(
      sentences.join(' '),
      /not known: .*the clock is in another unit than it says.* Some of the readings cannot be believed: .*the clock/,
    );
  });

  test('whatever is found, and wherever', async () => {
    const seed = runSeed(),
      random = seeded(seed);
    const cars = [await bothOf(SAMPLE_CAR), await bothOf(LEAN_CAR)].map(({ report }) => report);
    const severities = ['error', 'warning', 'information', 'hint'] as const,
      range = { start: { line: 1, character: 0 }, end: { line: 1, character: 1 } };
    for (let at = 0; at < 300; at++) {
      const checked: Finding[] = [];
      const some = (): Finding[] => {
        const found = Array.from({ length: random.chance(0.6) ? 0 : random.whole(1, 3) }, (): Finding => ({
          code: random.pick(RULES).code,
          severity: random.pick(severities),
          range,
          message: 'made up',
        }));
        checked.push(...found);
        return found;
      };
      const car = random.pick(cars);
      const report = {
        ...car,
        sessions: car.sessions.map((session) => ({ ...session, findings: some() })),
        table: car.table && { ...car.table, findings: some() },
        otherFindings: [{ file: 'vehicle.json', findings: some() }],
      };
      agree({ report, checked }, `LEANSPOT_SEED=${seed}, case ${at}`);
    }
  });

  test('on what is evidence: a second logger is none by itself, though it logs a pressure of its own', async () => {
    const logs = twoLogs(5),
      wideband = logs.wideband.replace(/^Time \(ms\);/m, 'Time (ms);MAP (kPa);').replace(/^(\d+);(?=\d+,)/gm, '$1;42,0;');
    const { report } = await bothOf(twoLoggerCar({ ...logs, wideband }, ', "join": [["ecu.session.csv", "wideband.session.csv"]]'));
    assert.deepEqual(
      report.table?.evidence?.sessions.map(({ session }) => session),
      ['ecu.session.csv'],
    );
  });
});
