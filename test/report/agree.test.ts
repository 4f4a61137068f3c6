// The report and `check` never disagree: an error that one tells is an error of the other, and nothing is called fine that wants a look.

import assert from 'node:assert/strict';
import type { Finding, Severity } from '../../server/src/findings/finding.js';
import { RULES } from '../../server/src/findings/registry.js';
import { gather } from '../../server/src/report/gather.js';
import type { Report } from '../../server/src/report/model.js';
import { reportPage } from '../../server/src/report/page.js';
import { verdictOf } from '../../server/src/report/verdict.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { drawCase } from '../support/faults/draw.js';
import { runSeed, seeded, seedOf } from '../support/faults/random.js';
import { toCsv } from '../support/faults/recording.js';
import { memoryWorkspace, ROOT } from '../support/memoryWorkspace.js';
import { LEAN_CAR, SAMPLE_CAR, SAMPLE_TABLE } from '../support/sampleDrive.js';

const OPTIONS = { date: '2026-09-16', version: '9.9.9' };

async function bothOf(fixture: string): Promise<{ report: Report; checked: readonly Finding[] }> {
  const workspace = memoryWorkspace(/^=== vehicle\.json$/m.test(fixture) ? fixture : `=== vehicle.json\n{}\n${fixture}`);
  const service = createLanguageService(workspace);
  const folder = await service.vehicleFolder(workspace.uri('vehicle.json'));
  assert.ok(folder);
  const checked: Finding[] = [];
  for (const { uri } of await service.filesBelow(ROOT)) checked.push(...(await service.check(uri))?.findings ?? []);
  return { report: await gather(workspace, service, folder, OPTIONS), checked };
}

function agree({ report, checked }: { report: Report; checked: readonly Finding[] }, what: string): void {
  const has = (severity: Severity): boolean => checked.some((finding) => finding.severity === severity);
  const { level, headline, sentences } = verdictOf(report), said = `${what}: ${headline}. ${sentences.join(' ')}\n${checked.map(({ severity, code }) => `${severity} ${code}`).join(', ')}`;
  assert.equal(level === 'stop', has('error'), said);
  if (level === 'look' || level === 'clear') assert.equal(level === 'look', has('warning'), said);
  // What was not judged stays in the headline, whatever else there is to say.
  const judged = report.sessions.flatMap(({ pulls }) => pulls).some(({ pull }) => pull.worstLambda !== undefined && pull.worstTargetLambda !== undefined);
  assert.equal(level === 'unknown', !has('error') && !judged, said);
  assert.equal(/^Nothing unsafe was seen( where it could be judged)?$/.test(headline), !has('error') && !has('warning') && judged, said);
  assert.equal(reportPage(report).includes('No error and no warning in any file'), !has('error') && !has('warning'), said);
  assert.ok(sentences.every((sentence) => !/undefined|NaN|\bof 0\b/.test(sentence)), said);
}

suite('report and check agree', function () {
  this.timeout(120000);

  test('on each rule\'s samples', async () => {
    for (const { code, sample } of RULES) for (const text of Object.values(sample())) agree(await bothOf(text), code);
  });

  test('on drives with faults planted in them, with and without a target', async () => {
    const seed = runSeed();
    const target = '=== tables/target.table.csv\n# quantity: target lambda\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n, 1000, 7000\n40, 1.00, 1.00\n90, 0.90, 0.88\n200, 0.82, 0.80\n';
    for (let at = 0; at < 8; at++) {
      const random = seeded(seedOf(seed, at));
      const tables = `${random.chance(0.5) ? `=== tables/ve.table.csv\n${SAMPLE_TABLE}` : ''}${random.chance(0.5) ? target : ''}`;
      const vehicle = `=== vehicle.json\n${JSON.stringify({ tables: { ...(tables.includes('ve.') ? { fuel: 'tables/ve.table.csv' } : {}), ...(tables.includes('target.') ? { target: 'tables/target.table.csv' } : {}) } })}\n`;
      const drives = [0, 1].slice(random.chance(0.5) ? 1 : 0).map((drive) => `=== sessions/${drive}.session.csv\n${toCsv(drawCase(seedOf(seed, 100 + 2 * at + drive), 90))}`).join('');
      agree(await bothOf(`${vehicle}${tables}${drives}`), `LEANSPOT_SEED=${seed}, case ${at}`);
    }
  });

  test('whatever is found, and wherever', async () => {
    const seed = runSeed(), random = seeded(seed);
    const cars = [await bothOf(SAMPLE_CAR), await bothOf(LEAN_CAR)].map(({ report }) => report);
    const severities = ['error', 'warning', 'information', 'hint'] as const, range = { start: { line: 1, character: 0 }, end: { line: 1, character: 1 } };
    for (let at = 0; at < 300; at++) {
      const checked: Finding[] = [];
      const some = (): Finding[] => {
        const found = Array.from({ length: random.chance(0.6) ? 0 : random.whole(1, 3) }, (): Finding => ({ code: random.pick(RULES).code, severity: random.pick(severities), range, message: 'made up' }));
        checked.push(...found);
        return found;
      };
      const car = random.pick(cars);
      const report = { ...car, sessions: car.sessions.map((session) => ({ ...session, findings: some() })), table: car.table && { ...car.table, findings: some() }, otherFindings: [{ file: 'vehicle.json', findings: some() }] };
      agree({ report, checked }, `LEANSPOT_SEED=${seed}, case ${at}`);
    }
  });
});
