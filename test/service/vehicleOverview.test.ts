// The tree of the vehicles: each level from the fixture's own files, nothing read before it is opened, worst moments against the outline's.

import assert from 'node:assert/strict';
import type { FileCheck } from '../../server/src/service/languageService.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace, ROOT } from '../support/memoryWorkspace.js';
import { SAMPLE_CAR, sampleDrive } from '../support/sampleDrive.js';

const unknown = (): undefined => undefined;

const car = (more = '') => {
  const workspace = memoryWorkspace(SAMPLE_CAR + more);
  const service = createLanguageService(workspace, { inBackground: true });
  return {
    workspace,
    service,
    overview: service.overview,
    run: workspace.uri('sessions/run.session.csv'),
    ve: workspace.uri('tables/ve.table.csv'),
    vehicle: workspace.uri('vehicle.json'),
  };
};

/** Every file checked, as the background does. */
async function checked({ service }: ReturnType<typeof car>): Promise<(uri: string) => FileCheck | undefined> {
  const results = new Map<string, FileCheck>();
  for (const { uri } of await service.filesBelow(ROOT)) {
    const check = await service.check(uri);
    if (check) results.set(uri, check);
  }
  return (uri) => results.get(uri);
}

suite('service: vehicle overview', () => {
  test('a vehicle counts its files; findings come with the checks', async () => {
    const fixture = car();
    const [before, ...others] = await fixture.overview.list([ROOT], unknown);
    assert.deepEqual(others, []);
    assert.equal(before!.uri, fixture.vehicle);
    assert.deepEqual([before!.hasFile, before!.sessions, before!.tables], [true, 1, 1]);
    assert.deepEqual(before!.findings, { errors: 0, warnings: 0, notes: 0 });
    const known = await checked(fixture);
    const [after] = await fixture.overview.list([ROOT], known);
    const all = [fixture.vehicle, fixture.run, fixture.ve].flatMap((uri) => known(uri)!.findings);
    assert.ok(all.length > 0);
    assert.equal(after!.findings.errors + after!.findings.warnings + after!.findings.notes, all.length);
    assert.equal(after!.findings.errors, all.filter(({ severity }) => severity === 'error').length);
  });

  test('500 sessions are listed without reading them', async () => {
    const many = Array.from(
      { length: 500 },
      (_, i) => `=== sessions/run-${i}.session.csv\nTime (s),Engine Speed (rpm)\n0,800\n1,810\n`,
    ).join('');
    const { workspace, overview, vehicle } = car(many);
    const [node] = await overview.list([ROOT], unknown);
    assert.equal(node!.sessions, 501);
    const { sessions } = await overview.files(vehicle, unknown);
    assert.equal(sessions.length, 501);
    assert.ok(sessions.every(({ read }) => read === undefined));
    // One head, for the table that it names: the first that has not been weighed ends the question of the proof.
    assert.ok([...workspace.opened.keys()].filter((uri) => uri.endsWith('.session.csv')).length <= 1);
  });

  test('a session is told with its length, pulls and findings once it has been checked', async () => {
    const fixture = car();
    const known = await checked(fixture);
    const {
      sessions: [session],
    } = await fixture.overview.files(fixture.vehicle, known);
    const { value: signals } = (await fixture.service.documents.signals(fixture.run))!;
    assert.equal(session!.name, 'sessions/run.session.csv');
    assert.equal(session!.read!.pulls, signals.pulls.length);
    assert.equal(session!.read!.durationS, known(fixture.run)!.session!.durationS);
  });

  test('pulls lie in their recordings, with the worst moment and what the engine did there', async () => {
    const { overview, service, run } = car();
    const recordings = await overview.session(run);
    const { value: signals } = (await service.documents.signals(run))!;
    const pulls = recordings.flatMap((recording) => recording.pulls);
    assert.ok(pulls.length > 0);
    assert.deepEqual(
      pulls.map(({ number }) => number),
      signals.pulls.map((_, index) => index + 1),
    );
    const text = (await service.documents.text(run))!.split('\n');
    for (const pull of pulls.filter(({ worst }) => worst)) {
      const { worst } = pull;
      assert.ok(pull.fromS <= worst!.timeS && worst!.timeS <= pull.toS && worst!.line >= pull.line);
      // The row in the file itself: time first.
      assert.equal(Number(text[worst!.line]!.split(',')[0]), worst!.timeS);
      assert.ok(worst!.rpm! >= pull.fromRpm - 200 && worst!.rpm! <= pull.toRpm + 200);
    }
    assert.ok(pulls.some(({ worst }) => worst !== undefined));
  });

  test('a table with its proof, and its cells with the farthest off first, at their places', async () => {
    const fixture = car();
    const known = await checked(fixture);
    const {
      tables: [table],
    } = await fixture.overview.files(fixture.vehicle, known);
    const evidence = (await fixture.service.weigher.evidence(fixture.ve))!.value;
    assert.equal(table!.role, 'fuel');
    assert.deepEqual(
      table!.proof,
      Object.fromEntries(['firm', 'thin', 'none'].map((proof) => [proof, evidence.cells.filter((cell) => cell.proof === proof).length])),
    );
    const cells = await fixture.overview.table(fixture.ve);
    assert.equal(cells.length, table!.proof!.firm + table!.proof!.thin);
    const lines = (await fixture.service.documents.text(fixture.ve))!.split('\n');
    for (const cell of cells) assert.equal(Number(lines[cell.line]!.slice(cell.character, cell.endCharacter)), cell.value);
    const firm = cells.filter(({ proof }) => proof === 'firm').map(({ factor }) => Math.abs(Math.log(factor)));
    assert.deepEqual(
      firm,
      [...firm].sort((a, b) => b - a),
    );
    assert.ok(cells.findIndex(({ proof }) => proof === 'thin') < 0 || cells.slice(firm.length).every(({ proof }) => proof === 'thin'));
  });

  test('files without a vehicle have a place of their own; a vehicle keeps what is its', async () => {
    const workspace = memoryWorkspace(
      `=== one/vehicle.json\n{}\n=== one/a.session.csv\nTime (s),Engine Speed (rpm)\n0,1\n=== loose/b.session.csv\n${sampleDrive()}=== c.table.csv\n,1\n1,2\n=== one/tables/history/old.table.csv\n,1\n1,2\n`,
    );
    const { overview } = createLanguageService(workspace);
    const nodes = await overview.list([ROOT], unknown);
    assert.deepEqual(
      nodes.map(({ name, hasFile, sessions, tables }) => [name, hasFile, sessions, tables]),
      [
        ['one', true, 1, 1],
        ['car', false, 1, 1],
      ],
    );
    const loose = await overview.files(nodes[1]!.uri, unknown);
    assert.deepEqual(
      [loose.sessions.map(({ name }) => name), loose.tables.map(({ name, role }) => [name, role])],
      [['loose/b.session.csv'], [['c.table.csv', 'other']]],
    );
    const { tables } = await overview.files(nodes[0]!.uri, unknown);
    assert.deepEqual(
      tables.map(({ role }) => role),
      ['earlier'],
    );
  });

  test('a long list ends when nobody waits for it', async () => {
    const { overview, vehicle } = car();
    assert.deepEqual(await overview.list([ROOT], unknown, { cancelled: true, report: () => undefined }), []);
    assert.deepEqual((await overview.files(vehicle, unknown, { cancelled: true, report: () => undefined })).tables, []);
  });

  test('what is no session or table has nothing below it', async () => {
    const { overview, vehicle, workspace } = car();
    assert.deepEqual(await overview.session(vehicle), []);
    assert.deepEqual(await overview.table(workspace.uri('gone.table.csv')), []);
  });
});
