// A second fuel table beside the one that vehicle.json names may be what the engine runs by: it is told. What is kept as an earlier state,
// or serves another end, is not.

import assert from 'node:assert/strict';
import { createFileService } from '../../server/src/service/fileService.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';

const table = (quantity: string): string =>
  `# quantity: ${quantity}\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,1000,2000\n40,50,52\n100,80,82\n`;
const VE = table('volumetric efficiency (%)');
const LOG = 'Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Lambda\n0,1000,40,1.00\n0.1,1010,41,1.01\n0.2,1020,42,0.99\n';

const told = async (
  vehicle: string,
  files: Readonly<Record<string, string>>,
): Promise<{ severity: string; message: string; text: string }[]> => {
  const workspace = memoryWorkspace(
    `=== vehicle.json\n${vehicle}\n${Object.entries(files)
      .map(([name, text]) => `=== ${name}\n${text}`)
      .join('')}`,
  );
  return ((await createFileService(workspace).check(workspace.uri('vehicle.json')))?.findings ?? [])
    .filter(({ data }) => data?.kind === 'tables-unlisted')
    .map(({ severity, message, range: { start, end } }) => ({
      severity,
      message,
      text: vehicle.split('\n')[start.line].slice(start.character, end.character),
    }));
};

suite('fuel tables that are not named', () => {
  const named = '{ "tables": { "fuel": "ve.table.csv" } }';
  test('one that holds what the named one holds is told, at the name', async () => {
    const [found, ...more] = await told(named, { 've.table.csv': VE, 'new/ve-2.table.csv': VE });
    assert.deepEqual([found.severity, found.text, more], ['information', '"ve.table.csv"', []]);
    assert.match(
      found.message,
      /^"new\/ve-2\.table\.csv" is a fuel table in this folder that "tables" of vehicle\.json does not name beside "ve\.table\.csv": the sessions are evidence on that one alone\./,
    );
  });
  test('two of which none is named are told, one is not', async () => {
    const [found, ...more] = await told('{ }', { 'a.table.csv': VE, 'b.table.csv': table('fuel mass (mg)') });
    assert.equal(more.length, 0);
    assert.match(found.message, /^"a\.table\.csv", "b\.table\.csv" are fuel tables .* names no other: the sessions are evidence on none\./);
    assert.deepEqual(await told('{ }', { 'a.table.csv': VE }), []);
  });
  test('earlier states, tables named under another key or of another quantity, and those of a nested vehicle are not', async () => {
    assert.deepEqual(
      await told(
        '{ "tables": { "fuel": "ve.table.csv", "bank 2": "ve-b2.table.csv" }, "sessions": [{ "files": "*.session.csv", "loggedWith": "ve-0.table.csv" }] }',
        {
          've.table.csv': VE,
          've-b2.table.csv': VE,
          've-0.table.csv': VE,
          'history/ve-1.table.csv': VE,
          'noted.table.csv': VE,
          'old/noted-2.table.csv': VE,
          'warm-up.table.csv': table('multiplier'),
          'spark.table.csv': table('ignition advance (deg)'),
          'other/vehicle.json': '{}\n',
          'other/ve.table.csv': VE,
          'a.session.csv': `# logged-with: noted.table.csv\n${LOG}`,
          'b.session.csv': `# logged-with: ./old/noted-2.table.csv\n${LOG}`,
        },
      ),
      [],
    );
  });
  test('a vehicle file that is cut off, or names a table that is not there, is told as that', async () => {
    assert.deepEqual(await told('{ "tables": { "fuel": "ve.table.csv"', { 've.table.csv': VE, 'b.table.csv': VE }), []);
    assert.deepEqual(await told(named, { 'a.table.csv': VE, 'b.table.csv': VE }), []);
  });
});
