// The report as a page: what it must say, that nothing out of a file becomes markup, that the same inputs make the same bytes.

import assert from 'node:assert/strict';
import { createHash } from 'node:crypto';
import { findingPage } from '../../server/src/findings/page.js';
import { RULES } from '../../server/src/findings/registry.js';
import { computedOnPage } from '../../server/src/report/computed.js';
import { gather, type ReportOptions } from '../../server/src/report/gather.js';
import { isReportDate } from '../../server/src/report/date.js';
import { escaped, html } from '../../server/src/report/html.js';
import type { Report } from '../../server/src/report/model.js';
import { reportPage } from '../../server/src/report/page.js';
import { verdictOf } from '../../server/src/report/verdict.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';
import { LEAN_CAR, SAMPLE_CAR, SAMPLE_TABLE, SAMPLE_VEHICLE, sampleDrive } from '../support/sampleDrive.js';

const OPTIONS: ReportOptions = { date: '2026-09-16', version: '9.9.9' };

async function reportOf(fixture: string, options = OPTIONS): Promise<Report> {
  const workspace = memoryWorkspace(fixture);
  const service = createLanguageService(workspace);
  const folder = await service.vehicleFolder(workspace.uri('vehicle.json'));
  assert.ok(folder);
  return gather(workspace, service, folder, options);
}

const carWith = (drive: string): string =>
  `=== vehicle.json\n${SAMPLE_VEHICLE}=== tables/ve.table.csv\n${SAMPLE_TABLE}=== sessions/run.session.csv\n${drive}`;

/** What a reader sees, tags and style out. */
const textOf = (page: string): string =>
  page
    .replace(/<style>[\s\S]*?<\/style>/, '')
    .replace(/<[^>]+>/g, ' ')
    .replace(/&#39;/g, "'")
    .replace(/&amp;/g, '&')
    .replace(/\s+/g, ' ');

suite('report: markup', () => {
  test('what is put in is text, whatever it holds', () => {
    assert.equal(
      html`<b title="${'"><script>'}">${"a<b & 'c'"}</b>`.text,
      '<b title="&quot;&gt;&lt;script&gt;">a&lt;b &amp; &#39;c&#39;</b>',
    );
    assert.equal(html`${['<', html`<i>${'>'}</i>`, undefined, false, 0]}`.text, '&lt;<i>&gt;</i>0');
    // Characters that HTML forbids, half of a pair, and those that turn the direction of text.
    assert.equal(escaped('a\u0000b\u001bc\ud800d\u202ee'), 'a\ufffdb\ufffdc\ufffdd\ufffde');
  });

  test('a date is a day that exists', () => {
    for (const good of ['2026-09-16', '2024-02-29']) assert.ok(isReportDate(good));
    for (const bad of ['2026-02-30', '2026-9-1', 'today', '2026-09-16"><script>', '']) assert.ok(!isReportDate(bad));
  });
});

suite('report: how things are computed', () => {
  test('a page says the same of it as its rule, which the packed server leaves to the page', () => {
    for (const rule of RULES) assert.equal(computedOnPage(findingPage(rule)), rule.docs.computed, rule.code);
    assert.equal(computedOnPage(), '');
  });
});

suite('report: what it says', function () {
  this.timeout(30000);

  test('a lean pull: three sentences, the pull, the moment, the limits, the cautions, what could not be known', async () => {
    const report = await reportOf(carWith(sampleDrive({ unrest: true })));
    const verdict = verdictOf(report);
    assert.equal(verdict.level, 'stop');
    // λ 1.02 for 0.85: one over lambda is fuel, 1 − 0.85/1.02 = 16.7 % missing (arithmetic).
    assert.match(
      verdict.sentences[0],
      /^The engine is not safe at full throttle: in 1 of 1 full-throttle pulls the engine got too little fuel, at worst 1[67]\u00a0% less/,
    );
    assert.match(verdict.sentences[2], /^No more full throttle until fuel pressure has been checked under load/);
    const text = textOf(reportPage(report));
    for (const words of [
      'Test coupe',
      'Engine report of 2026-09-16',
      'Leanspot 9.9.9',
      'Not safe at full throttle',
      'Pull 1',
      'Lean under load',
      'tables/ve.table.csv',
      'sessions/run.session.csv',
      'not logged, so nothing is known of ignition advance, knock retard',
      'Wheel power: body.massKg',
      'There is no trouble code',
      'Nothing: every session was logged with the fuel table as it is now',
    ])
      assert.ok(text.includes(words), words);
    // The cautions of the product, in sense.
    for (const caution of [
      /Lean under load destroys engines/,
      /Never read a screen while driving/,
      /carbon monoxide/,
      /Fuel burns/,
      /Local law decides/,
      /before the sensors are checked/,
      /Keep the original calibration/,
      /Small steps/,
      /qualified person decides/,
    ])
      assert.match(text, caution);
  });

  test('a quiet engine is said to be so, and a folder without pulls cannot be judged', async () => {
    const drive = sampleDrive({ leanest: 0.85, unrest: true });
    // Up to the lift: what the made-up drive does in its overrun no throttle and no sensor does, and it is told.
    const quiet = verdictOf(await reportOf(carWith(drive.split('\n').slice(0, 651).join('\n')).replace('"extra/*.csv"', '')));
    assert.equal(quiet.level, 'clear');
    const told = verdictOf(await reportOf(carWith(drive)));
    assert.deepEqual([told.level, told.headline], ['look', 'Nothing unsafe was seen, but what was read needs a look']);
    assert.match(quiet.sentences[0], /^In all 1 full-throttle pulls the engine got the fuel/);
    const unknown = verdictOf(await reportOf(LEAN_CAR.replace(' // kept', '')));
    assert.equal(unknown.level, 'unknown');
    assert.match(unknown.sentences[0], /no full-throttle pull/);
    const empty = await reportOf(`=== vehicle.json\n${SAMPLE_VEHICLE}`);
    assert.match(verdictOf(empty).sentences[0], /no session was found/);
    assert.match(textOf(reportPage(empty)), /names no fuel table|No session was found/);
  });

  test('the fuel table: picture, proof and proposal; what was changed and whether it worked', async () => {
    const before = await reportOf(LEAN_CAR);
    const page = reportPage(before);
    assert.match(page, /<svg class="table-picture"[^>]*role="img"[^>]*><title[^>]*>The fuel table/);
    const cells = before.table!.proposal!.cells;
    assert.ok(cells.length > 0);
    for (const { oldText, newText } of cells) assert.ok(textOf(page).includes(`${oldText} ${newText}`), `${oldText} → ${newText}`);

    // The same car a day later: the table kept, the first drive pinned to it, and a drive that no longer runs lean.
    const corrected = SAMPLE_TABLE.replace('52.0, 54.0', '55.1, 57.2');
    const drive = LEAN_CAR.slice(LEAN_CAR.indexOf('Time (s)'));
    const fixed = drive.replace(/,1\.0[56]\d,1\.00,/g, (reading) => `,${(Number(reading.slice(1, 6)) / 1.06).toFixed(3)},1.00,`);
    const after = await reportOf(`=== vehicle.json
{ "tables": { "fuel": "tables/ve.table.csv" }, "sessions": [{ "files": "sessions/monday.session.csv", "loggedWith": "tables/history/ve-1.table.csv" }] }
=== tables/ve.table.csv
${corrected}=== tables/history/ve-1.table.csv
${SAMPLE_TABLE}=== sessions/monday.session.csv
${drive}=== sessions/tuesday.session.csv
${fixed}`);
    assert.equal(after.changes.length, 1);
    const [change] = after.changes;
    assert.deepEqual(
      [change.before, change.after, change.sessionsBefore, change.sessionsAfter],
      ['tables/history/ve-1.table.csv', 'tables/ve.table.csv', ['sessions/monday.session.csv'], ['sessions/tuesday.session.csv']],
    );
    assert.deepEqual(
      change.changed.map(({ from, to }) => [from, to]),
      [
        ['52.0', '55.1'],
        ['54.0', '57.2'],
      ],
    );
    assert.match(change.comparison!.verdict, /^The change worked/);
    assert.ok(textOf(reportPage(after)).includes(change.comparison!.verdict));

    // Lean at full throttle in the drive after it: what is proven at cruise comes second.
    const lean = await reportOf(`=== vehicle.json
{ "tables": { "fuel": "tables/ve.table.csv" }, "sessions": [{ "files": "sessions/monday.session.csv", "loggedWith": "tables/history/ve-1.table.csv" }] }
=== tables/ve.table.csv
${corrected}=== tables/history/ve-1.table.csv
${SAMPLE_TABLE}=== sessions/monday.session.csv
${drive}=== sessions/tuesday.session.csv
${fixed}=== sessions/wednesday.session.csv
${sampleDrive()}`);
    assert.match(
      lean.changes[0].comparison!.verdict,
      /^The engine is still not safe: .*\(sessions\/wednesday\.session\.csv at .*\. The change worked where both sides prove it/,
    );
  });

  test('banks that read a cylinder apart come before the table, though the other drive proves it off', async () => {
    // A bank of five cylinders of which one burns nothing: 5/4 of the other's lambda (cylinders over those that burn).
    const drive = LEAN_CAR.slice(LEAN_CAR.indexOf('Time (s)')).trimEnd().split('\n');
    const apart = drive
      .map((row, at) => (at === 0 ? `${row},Lambda 2 (λ)` : `${row},${(1.25 * Number(row.split(',')[4])).toFixed(3)}`))
      .join('\n');
    const report = await reportOf(`${LEAN_CAR}=== sessions/v10.session.csv\n${apart}\n`),
      {
        sentences: [, believe, next],
      } = verdictOf(report);
    assert.ok(report.table!.proposal!.cells.length > 0);
    assert.match(believe, /For a while the banks of the engine read too far apart for one fuel table/);
    assert.match(next, /the reason is found why the banks read so far apart.* The fuel table stays as it is until then\./);
    assert.match(textOf(reportPage(report)), /First find the cause of what some readings were left out for: banks too far apart/);
    assert.doesNotMatch(verdictOf(await reportOf(LEAN_CAR)).sentences.join(' '), /banks/);
  });

  test('a change without a drive after it is not called proven', async () => {
    const report = await reportOf(`=== vehicle.json
{ "tables": { "fuel": "tables/ve.table.csv" }, "sessions": [{ "files": "sessions/*.session.csv", "loggedWith": "tables/history/ve-1.table.csv" }] }
=== tables/ve.table.csv
${SAMPLE_TABLE.replace('90.0', '91.0')}=== tables/history/ve-1.table.csv
${SAMPLE_TABLE}=== sessions/run.session.csv
${sampleDrive()}`);
    assert.match(textOf(reportPage(report)), /nothing yet, so it is not known whether it worked/);
    assert.match(verdictOf(report).sentences[2], /changed after these drives/);
  });

  test('trouble codes, silenced findings and channels that were not recognised are told', async () => {
    const session = `# trouble-codes: P0171\n# ignore: channel-missing\n${sampleDrive().replace('Coolant Temperature (°C)', 'Mystery Box')}`;
    const text = textOf(reportPage(await reportOf(`=== vehicle.json\n${SAMPLE_VEHICLE}=== sessions/run.session.csv\n${session}`)));
    for (const words of [
      'P0171',
      'too lean',
      'switched off by a note in the file: channel-missing',
      'not recognised, so not looked at: Mystery Box',
    ])
      assert.ok(text.includes(words), words);
  });
});

suite('report: what it is made of', function () {
  this.timeout(30000);

  test('the same inputs and date make the same bytes; the inputs are named with their SHA-256', async () => {
    const [one, two] = [reportPage(await reportOf(SAMPLE_CAR)), reportPage(await reportOf(SAMPLE_CAR))];
    assert.equal(one, two);
    assert.notEqual(one, reportPage(await reportOf(SAMPLE_CAR, { ...OPTIONS, date: '2026-09-17' })));
    for (const content of [SAMPLE_VEHICLE, SAMPLE_TABLE, sampleDrive()])
      assert.ok(one.includes(createHash('sha256').update(content).digest('hex')));
  });

  // What hostile files say is held in test/trust/shown.test.ts.
  test('nothing is loaded from anywhere', async () => {
    const page = reportPage(await reportOf(SAMPLE_CAR));
    assert.match(page, /Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">/);
    assert.doesNotMatch(/<style>([\s\S]*?)<\/style>/.exec(page)![1], /url\(|@import|expression/i);
  });

  test('headings run in order, tables have scopes, pictures have names, ids are there once', async () => {
    const page = reportPage(await reportOf(SAMPLE_CAR));
    const levels = [...page.matchAll(/<h([1-6])/g)].map(([, level]) => Number(level));
    levels.forEach((level, at) => assert.ok(at === 0 ? level === 1 : level <= levels[at - 1] + 1, `h${level} at ${at}`));
    for (const [tag] of page.matchAll(/<th\b[^>]*>/g)) assert.match(tag, /scope="(col|row)"/);
    for (const [tag] of page.matchAll(/<svg\b[^>]*>/g)) assert.match(tag, /role="img" aria-label/);
    const ids = [...page.matchAll(/\sid="([^"]+)"/g)].map(([, id]) => id);
    assert.equal(new Set(ids).size, ids.length);
    for (const [, wanted] of page.matchAll(/aria-labelledby="([^"]+)"/g))
      for (const id of wanted.split(' ')) assert.ok(ids.includes(id), id);
    for (const [, anchor] of page.matchAll(/href="#([^"]+)"/g)) assert.ok(ids.includes(anchor), anchor);
  });
});
