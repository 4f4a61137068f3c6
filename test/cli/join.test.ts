// `leanspot join` from outside: the written session against the drive that both logs were drawn from.

import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';
import { inFolder } from '../support/folder.js';
import { sampleDrive } from '../support/sampleDrive.js';
import { twoLoggerCar, twoLogs } from '../support/twoLoggerCar.js';
import { leanspot } from './run.js';

const SEED = Number(process.env.LEANSPOT_SEED ?? Math.floor(Math.random() * 2 ** 31));

suite(`command line: join (LEANSPOT_SEED=${SEED})`, () => {
  test("one session: both logs' channels, units and rates, the second on the first's clock", async () => {
    const logs = twoLogs(SEED);
    await inFolder(twoLoggerCar(logs, ''), async (cwd) => {
      const { status, stdout, stderr } = await leanspot(
        ['join', 'ecu.session.csv', 'wideband.session.csv', '--output', 'drive.session.csv'],
        { cwd },
      );
      assert.deepEqual([status, stderr], [0, '']);
      assert.match(
        stdout,
        /^Joined by engine speed \(correlation (?:0\.99\d|1\.000) over \d+ s, parts of it within \d+ ms\); 0 s of the second is \d/,
      );
      assert.match(stdout, /Both have RPM \(rpm\): that of ecu\.session\.csv stands/);
      const session = readSession(textSource(readFileSync(join(cwd, 'drive.session.csv'), 'utf8')));
      assert.deepEqual(session.problems, []);
      assert.deepEqual(
        session.channels.map(({ header, quantity, unit }) => [header, quantity, unit?.symbol]),
        [
          ['Engine Speed (rpm)', 'engine-speed', 'rpm'],
          ['Manifold Pressure (kPa)', 'manifold-pressure', 'kPa'],
          ['Throttle (%)', 'throttle', '%'],
          ['Target Lambda (λ)', 'target-lambda', 'λ'],
          ['Coolant Temperature (°C)', 'coolant-temperature', '°C'],
          ['AFR (AFR gasoline)', 'lambda', 'AFR (gasoline)'],
          ['second logger: RPM (rpm)', undefined, 'rpm'],
          ['EGT (°C)', 'exhaust-gas-temperature', '°C'],
        ],
      );
      assert.equal(session.metadata.get('joined'), 'ecu.session.csv and wideband.session.csv');
      assert.equal(session.metadata.get('logger'), 'workshop wideband');
      const filled = (header: string): number => session.channels.find((each) => each.header === header)!.filled;
      assert.equal(filled('Engine Speed (rpm)'), logs.ecu.split('\n').length - 2);
      assert.equal(filled('AFR (AFR gasoline)'), logs.wideband.split('\n').length - 3);
      assert.equal(filled('EGT (°C)'), Math.ceil(filled('AFR (AFR gasoline)') / 5));
      // λ falls and rises by at most 0.03 / 11 a second; two roundings of the clocks and the written digits stay well below what 60 ms
      // would show.
      const lambda = session.channels.find(({ quantity }) => quantity === 'lambda')!;
      const worst = lambda.values.reduce(
        (most, value, row) => (Number.isNaN(value) ? most : Math.max(most, Math.abs(value - logs.lambdaAt(session.timeS[row])))),
        0,
      );
      assert.ok(worst < 0.0004, `λ off by ${worst}`);
      const found = /0 s of the second is ([\d.]+) s/.exec(stdout)![1];
      assert.ok(Math.abs(Number(found) - logs.offsetS) < 0.06, `${found} for ${logs.offsetS}`);
      assert.equal(
        (await leanspot(['check', 'drive.session.csv', '--fail-on', 'warning', '--format', 'json'], { cwd })).stdout.includes('"time-'),
        false,
      );
    });
  });

  // Which refusal comes first depends on how the drives were drawn; each asks whether they are of the same one.
  test('refusals: one line, nothing written', async () => {
    const logs = twoLogs(SEED + 1);
    const other = twoLogs(SEED + 2);
    const wave = (scale: number): string =>
      `Time (s),Engine Speed (rpm)\n${Array.from({ length: 2000 }, (_, row) => `${row / 10},${Math.round(3000 + 900 * Math.sin(row / scale))}`).join('\n')}\n`;
    await inFolder(
      `${twoLoggerCar(logs, '')}=== other.session.csv\n${other.wideband}=== wave.session.csv\n${wave(12)}=== wave2.session.csv\n${wave(12)}=== plain.csv\nTime (s),Lambda\n0,1\n1,1\n=== run.session.csv\n${sampleDrive()}`,
      async (cwd) => {
        const refused = async (a: string, b: string, output: string, says: RegExp): Promise<void> => {
          const { status, stdout, stderr } = await leanspot(['join', a, b, '--output', output], { cwd });
          assert.deepEqual([status, stdout], [2, ''], stderr);
          assert.match(stderr, says);
          assert.equal(stderr.trim().split('\n').length, 1, stderr);
        };
        await refused(
          'ecu.session.csv',
          'other.session.csv',
          'out.session.csv',
          /ecu\.session\.csv and other\.session\.csv cannot be joined: .*(nowhere|the same drive)/,
        );
        await refused('wave.session.csv', 'wave2.session.csv', 'out.session.csv', /matches as well [\d.]+ s (later|earlier)/);
        await refused('ecu.session.csv', 'plain.csv', 'out.session.csv', /no channel in common/);
        await refused('ecu.session.csv', 'ecu.session.csv', 'out.session.csv', /named twice/);
        await refused('ecu.session.csv', 'gone.csv', 'out.session.csv', /no such session: gone\.csv/);
        await refused('ecu.session.csv', 'vehicle.json', 'out.session.csv', /vehicle\.json does not read as a session/);
        await refused('ecu.session.csv', 'wideband.session.csv', 'none/out.session.csv', /no such folder: none/);
        assert.throws(() => readFileSync(join(cwd, 'out.session.csv')));
        await refused('ecu.session.csv', 'wideband.session.csv', 'run.session.csv', /run\.session\.csv is there already/);
        assert.equal(readFileSync(join(cwd, 'run.session.csv'), 'utf8'), sampleDrive());
        for (const [path, note] of [
          ['ecu.session.csv', 'a'],
          ['wideband.session.csv', 'b'],
        ])
          writeFileSync(join(cwd, path), `# logged-with: ${note}.table.csv\n${readFileSync(join(cwd, path), 'utf8')}`);
        await refused(
          'ecu.session.csv',
          'wideband.session.csv',
          'out.session.csv',
          /logged with different tables \(a\.table\.csv, b\.table\.csv\)/,
        );
      },
    );
    assert.match((await leanspot(['join', 'a', 'b'])).stderr, /--output/);
  });

  test('"join" in vehicle.json: weighed as one session; the second alone no more; a join that fails is told at its place', async () => {
    const logs = twoLogs(SEED + 3);
    const weigh = async (cwd: string): Promise<string> => (await leanspot(['weigh', 've.table.csv'], { cwd })).stdout;
    await inFolder(twoLoggerCar(logs, ''), async (cwd) => {
      assert.match(await weigh(cwd), /ecu\.session\.csv: 0 of 8000 samples used/);
    });
    await inFolder(twoLoggerCar(logs, ', "join": [["ecu.session.csv", "wideband.session.csv"]]'), async (cwd) => {
      const text = await weigh(cwd);
      assert.match(text, /ecu\.session\.csv: [1-9]\d* of \d+ samples used/);
      assert.match(text, /assumed: wideband\.session\.csv is of the same drive, joined by engine speed \(correlation (?:0\.99\d|1\.000)/);
      assert.doesNotMatch(text, /wideband\.session\.csv: /);
      const { findings } = JSON.parse((await leanspot(['check', '.', '--format', 'json'], { cwd })).stdout) as {
        findings: { code: string; file: string }[];
      };
      assert.deepEqual(
        findings.filter(({ file }) => file === 'vehicle.json'),
        [],
      );
    });
    await inFolder(
      twoLoggerCar(
        { ...logs, wideband: twoLogs(SEED + 4).wideband },
        ', "join": [["ecu.session.csv", "wideband.session.csv"], ["ecu.session.csv", "gone.csv"], ["../a.csv", "b.csv"], ["one.csv"]]',
      ),
      async (cwd) => {
        const { findings } = JSON.parse((await leanspot(['check', 'vehicle.json', '--format', 'json'], { cwd })).stdout) as {
          findings: { code: string; message: string; range: { start: { character: number } } }[];
        };
        const says = (code: string, message: RegExp): void =>
          assert.ok(
            findings.some((each) => each.code === code && message.test(each.message)),
            `${message} in ${JSON.stringify(findings.map((each) => each.message))}`,
          );
        says('vehicle-invalid', /"ecu\.session\.csv" and "wideband\.session\.csv" cannot be joined: .*(nowhere|the same drive)/);
        says('file-missing', /no session "gone\.csv" to be joined/);
        says('vehicle-invalid', /"\.\.\/a\.csv" leads out of the folder/);
        says('vehicle-invalid', /join/);
      },
    );
  });
});
