// Columns that nobody knows: told by every command, and one that looks like a fuel trim keeps fuel from being taken out until the vehicle
// file says what it is.

import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { inFolder } from '../support/folder.js';
import { LEAN_CAR } from '../support/sampleDrive.js';
import { unreadWords } from '../../server/src/fueling/doubts/unread.js';
import { leanspot } from './run.js';

const CRUISE = 'sessions/cruise [1].session.csv';

/** The lean car with lambda moved and more columns, by time. */
const carWith = (byLambda: number, columns: Readonly<Record<string, (timeS: number) => string>>): string =>
  LEAN_CAR.split('\n')
    .map((line) => {
      if (line.startsWith('Time (s)')) return [line, ...Object.keys(columns)].join(',');
      if (!/^\d+\.\d\d,/.test(line)) return line;
      const cells = line.split(',');
      cells[4] = (Number(cells[4]) + byLambda).toFixed(3);
      return [...cells, ...Object.values(columns).map((at) => at(Number(cells[0])))].join(',');
    })
    .join('\n');

/** 8 % rich of its target while a trim of −8 % that nobody knows stands there, and a road that rises and falls. */
const RICH = carWith(-0.14, {
  'Korrektur K (%)': (t) => (-8 + Math.sin(t / 5)).toFixed(1),
  'Road grade (%)': (t) => (3 * Math.sin(t / 40)).toFixed(1),
  Mystery: (t) => t.toFixed(1),
});

const said = (folder: string, channels: object): void => {
  const path = join(folder, 'vehicle.json');
  writeFileSync(path, readFileSync(path, 'utf8').replace('"name"', `"channels": ${JSON.stringify(channels)},\n    "name"`));
};

suite('columns that are not recognised', function () {
  this.timeout(120000);

  test('check, weigh and correct name them, and no fuel is taken out by a log with one that looks like a trim', () =>
    inFolder(RICH, async (cwd) => {
      const check = await leanspot(['check', '.', '--fail-on', 'never'], { cwd });
      assert.match(
        check.stdout,
        /^Not recognised, so not looked at: Korrektur K \(%\), Road grade \(%\), Mystery; Korrektur K \(%\) looks like a fuel trim, so no fuel is taken out by a log with it until /m,
      );
      assert.match(check.stdout, /note channel-missing "Korrektur K \(%\)" is not recognised and looks like a fuel trim/);
      assert.equal(check.stdout.match(/looks like a fuel trim:/g)?.length, 1, "a road's grade is none");

      const weigh = await leanspot(['weigh', 'tables/ve.table.csv'], { cwd });
      assert.match(weigh.stdout, /^ {4}not recognised, so not looked at: Korrektur K \(%\), /m);
      const json = await leanspot(['weigh', 'tables/ve.table.csv', '--format', 'json'], { cwd });
      assert.match(json.stderr, /^leanspot: sessions\/cruise \[1\]\.session\.csv: not recognised, so not looked at: /m);
      assert.deepEqual(Object.keys(JSON.parse(json.stdout)), ['schema', 'table', 'columns', 'rows', 'transportDelay', 'cells']);

      const correct = await leanspot(['correct', 'tables/ve.table.csv', '--output', 'next.table.csv'], { cwd });
      assert.equal(correct.status, 2);
      assert.match(
        correct.stderr,
        /say first under "channels" in vehicle\.json what the columns are .* look like fuel trims.*: 2000 \/ 40, 3000 \/ 40/,
      );

      // Kept evidence carries it.
      assert.equal((await leanspot(['weigh', 'tables/ve.table.csv', '--save-evidence', 'kept.jsonl'], { cwd })).status, 0);
      assert.match(
        (await leanspot(['weigh', 'tables/ve.table.csv', '--from-evidence', 'kept.jsonl'], { cwd })).stdout,
        /Korrektur K \(%\) looks like a fuel trim/,
      );
      assert.ok(
        (await leanspot(['report', '.', '--output', 'out.html'], { cwd })).status === 0 &&
          readFileSync(join(cwd, 'out.html'), 'utf8').includes('Korrektur K (%) looks like a fuel trim'),
      );
    }));

  test('one that is known and in a unit that does not measure it is told as that alone', () =>
    inFolder(carWith(0, { 'Throttle (V)': () => '2.5', 'Mystery (V)': () => '1.0' }), async (cwd) => {
      const { stdout } = await leanspot(['check', '.', '--fail-on', 'never'], { cwd });
      assert.match(stdout, /unit-unknown Throttle is logged in V, which does not measure it/);
      assert.match(stdout, /^Not recognised, so not looked at: Mystery \(V\)\.$/m);
    }));

  test('once it is said to be a trim it is counted; said to be none, fuel comes out', async () => {
    await inFolder(RICH, async (cwd) => {
      said(cwd, { 'Korrektur K (%)': { quantity: 'other' } });
      const { status, stdout } = await leanspot(['correct', 'tables/ve.table.csv', '--output', 'next.table.csv'], { cwd });
      assert.equal(status, 0);
      assert.match(stdout, /2000 \/ 40: 52\.0 → \S+, −[78]\.\d %/);
      assert.match(stdout, /Not recognised, so not looked at: Road grade \(%\), Mystery\./);
      assert.doesNotMatch((await leanspot(['check', 'vehicle.json'], { cwd })).stdout, /quantity|other/);
    });
    await inFolder(RICH, async (cwd) => {
      said(cwd, { 'Korrektur K (%)': { quantity: 'long-term-fuel-trim' } });
      // λ 0.92 with 8 % of fuel taken away: the table holds 0.92 × 0.92 of what it should.
      assert.match((await leanspot(['weigh', 'tables/ve.table.csv'], { cwd })).stdout, /^ +40 +0\.84\d /m);
    });
  });

  test('fuel is still added by such a log', () =>
    inFolder(carWith(0, { 'Adaptation (%)': () => '6.0' }), async (cwd) => {
      assert.match(
        (await leanspot(['correct', 'tables/ve.table.csv', '--output', 'next.table.csv'], { cwd })).stdout,
        /2000 \/ 40: 52\.0 → \S+, \+[45]\.\d %/,
      );
    }));

  test('without trims a mixture that stands at λ 1 is said to be taken as uncorrected; one that stands off it is not', async () => {
    await inFolder(carWith(-0.06, {}), async (cwd) => {
      for (const args of [
        ['check', '.'],
        ['weigh', 'tables/ve.table.csv'],
        ['correct', 'tables/ve.table.csv', '--output', 'next.table.csv'],
      ]) {
        assert.match(
          (await leanspot(args, { cwd })).stdout,
          /(?:assumed|Taken for granted): no fuel trims are logged or recognised: the engine computer is taken not to correct the mixture by itself/,
          args[0],
        );
      }
    });
    await inFolder(carWith(-0.06, { 'Short Term Fuel Trim (%)': (t) => Math.sin(t).toFixed(1) }), async (cwd) => {
      assert.match(
        (await leanspot(['check', CRUISE], { cwd })).stdout,
        /Taken for granted: no long-term fuel trim is logged or recognised: the engine computer is taken to have learnt none\./,
      );
    });
    await inFolder(LEAN_CAR, async (cwd) => assert.doesNotMatch((await leanspot(['check', '.'], { cwd })).stdout, /no fuel trims/));
  });

  test('two gauges of one bank that differ steadily are told, and nothing is corrected until it is known which is right', async () => {
    // The lean car's λ 1.06 beside a gauge that reads 3 % less: 1.06 / 1.03 × 14.7.
    const gauge = (t: number): string => ((1.06 * 14.7) / 1.03 + 0.05 * Math.sin(t * 9)).toFixed(2),
      car = carWith(0, { 'Shop gauge AFR (AFR gasoline)': gauge });
    await inFolder(car, async (cwd) => {
      const { stdout } = await leanspot(['check', '.'], { cwd });
      assert.match(
        stdout,
        /warning value-implausible Two gauges of one bank differ steadily: "?Lambda[^:]* reads (?:2\.9|3\.0|3\.1) % leaner than "?Shop gauge AFR/,
      );
      assert.doesNotMatch(stdout, /Not recognised/);
      const correct = await leanspot(['correct', 'tables/ve.table.csv', '--output', 'next.table.csv'], { cwd });
      assert.equal(correct.status, 2);
      assert.match(
        correct.stderr,
        /find out first which of the two lambda gauges is right.*2000 \/ 40, 3000 \/ 40.*Lambda \(λ\) and Shop gauge AFR \(AFR gasoline\) differ steadily/,
      );
      said(cwd, { 'Shop gauge AFR (AFR gasoline)': { quantity: 'other' } });
      assert.equal((await leanspot(['correct', 'tables/ve.table.csv', '--output', 'next.table.csv'], { cwd })).status, 0);
    });
    // The same sensor again, as AFR of gasoline and on the scale of the fuel in the tank (E10: 14.1); a target; a narrowband's volts.
    for (const [header, value] of [
      ['AFR', 1.06 * 14.7],
      ['AFR', 1.06 * 14.08],
      ['External target AFR', 14.2],
      ['Shop lambda (V)', 0.12],
    ] as const) {
      await inFolder(carWith(0, { [header]: (t) => (value + 0.002 * Math.sin(t)).toFixed(3) }), async (cwd) =>
        assert.doesNotMatch((await leanspot(['check', CRUISE], { cwd })).stdout, /Two gauges/, header),
      );
    }
    // Each log's two by themselves, and the same two once.
    const pair = (...channels: string[]) => ({ kind: 'gauges-apart', channels }) as const;
    assert.match(
      unreadWords({ doubts: [pair('Lambda', 'Shop AFR'), pair('Lambda', 'Shop AFR'), pair('AFR 1', 'External AFR')] })!,
      /^Lambda and Shop AFR, and AFR 1 and External AFR differ steadily/,
    );
    // Of two banks 8 % apart a mean is no gauge.
    await inFolder(
      carWith(0, {
        'Lambda 2': (t) => (0.98 + 0.002 * Math.sin(t)).toFixed(3),
        'Lambda avg': (t) => (1.02 + 0.002 * Math.sin(t)).toFixed(3),
      }),
      async (cwd) => assert.doesNotMatch((await leanspot(['check', CRUISE], { cwd })).stdout, /Two gauges/),
    );
  });
});
