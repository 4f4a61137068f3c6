// Every rule against its own samples: the firing one must give the code, the quiet one must not. And every code of the contract has its
// rule.

import assert from 'node:assert/strict';
import type { Finding } from '../../server/src/findings/finding.js';
import { sessionFindings, tableFindings, vehicleFindings } from '../../server/src/findings/check.js';
import { RULES } from '../../server/src/findings/registry.js';
import { LIMITS } from '../../server/src/formats/limits.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { readVehicle } from '../../server/src/formats/vehicle/readVehicle.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { judge, weighSession } from '../../server/src/fueling/weigh.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { fixtureFiles, type FixtureFile } from '../support/fixture.js';

/** The codes that are public: silenced by name in files, read by machines. */
const CONTRACT = `value-not-a-number row-ragged header-duplicate unit-unknown channel-missing time-reversed time-gap time-repeated
  sensor-dropout channel-clipped channel-stuck value-implausible sensor-cold sensor-mount afr-scale-mismatch lean-under-load rich-under-load
  knock injector-duty-high fuel-pressure-drop intake-air-hot coolant-hot misfire-suspected trouble-code axis-not-monotonic cell-lean cell-rich
  cell-rough cell-unproven target-unsafe vehicle-invalid file-missing`.split(/\s+/);

/** All findings of a small vehicle folder given as texts. */
function check(fixture: string): Finding[] {
  const files = fixtureFiles(fixture);
  const found: Finding[] = [];
  const vehicleFile = files.find((file) => file.name.endsWith('vehicle.json'));
  const document = vehicleFile ? readVehicle(vehicleFile.text) : undefined;
  const vehicle = document?.vehicle ?? EMPTY_VEHICLE;
  if (document) {
    const names = new Set(files.map((file) => file.name));
    found.push(...vehicleFindings({ ...document, problems: [...document.problems, ...missing(document.vehicle.tables, names, document)] }));
  }
  const tables = files.filter((file) => file.name.endsWith('.table.csv')).map((file) => ({ file, table: readTable(file.text) }));
  const named = (path: string | undefined) => tables.find(({ file }) => file.name === path)?.table;
  const targetTable = named(vehicle.tables.target);
  const sessions = files
    .filter((file) => file.name.endsWith('.session.csv'))
    .map((file: FixtureFile) => analyse(readSession(textSource(file.text), { vehicle }), vehicle, { targetTable }));
  for (const signals of sessions) found.push(...sessionFindings(signals));
  for (const { table } of tables) {
    const fuel = table === named(vehicle.tables.fuel) && sessions.length > 0;
    const evidence = fuel
      ? judge(
          table,
          sessions.map((signals, i) => weighSession(signals, table, { session: `${i}` })),
        )
      : undefined;
    found.push(...tableFindings({ table, vehicle: document, evidence }));
  }
  return found;
}

/** What the service tells the vehicle file about its paths, in small. */
function missing(tables: Readonly<Record<string, string | undefined>>, names: Set<string>, document: ReturnType<typeof readVehicle>) {
  return Object.entries(tables)
    .filter(([, path]) => path !== undefined && !names.has(path))
    .map(([key, path]) => ({
      code: 'file-missing' as const,
      kind: 'table',
      range: document.rangeOf(['tables', key])!,
      count: 1,
      data: { path: path! },
    }));
}

suite('rules', () => {
  for (const rule of RULES) {
    test(`${rule.code}: the firing sample fires`, () => {
      const found = check(rule.sample().firing);
      assert.ok(
        found.some((finding) => finding.code === rule.code),
        `found only: ${found.map((finding) => `${finding.code}: ${finding.message}`).join('\n') || 'nothing'}`,
      );
    });
    test(`${rule.code}: the quiet sample is quiet`, () => {
      const found = check(rule.sample().quiet).filter((finding) => finding.code === rule.code);
      assert.deepEqual(
        found.map((finding) => finding.message),
        [],
      );
    });
    test(`${rule.code}: its docs are whole`, () => {
      const { docs } = rule;
      for (const text of [docs.title, docs.meaning, docs.computed, docs.checkFirst, ...docs.causes])
        assert.ok(text.trim().length > 3, JSON.stringify(docs));
      assert.ok(docs.causes.length > 0);
      for (const id of docs.limits) assert.ok(id in LIMITS, id);
    });
  }

  test('every code of the contract has one rule, and no other', () => {
    assert.deepEqual(RULES.map((rule) => rule.code).sort(), [...CONTRACT].sort());
  });
});
