// What a person sees in an editor that is nothing but a page: the same findings, hovers, side bar and trace, from a server in a worker.
import assert from 'node:assert/strict';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { misspeltCell } from '../benchCar.js';
import { scene } from '../scene.js';
import { openVehicle, row, unfold } from './vehicle.js';
import { traceIn } from './trace.js';

scene('a table in a browser without a server', { files: ['bench-car/tables/fuel.table.csv'], web: true }, async (window) => {
  await window.squiggles('error').first().waitFor();
  await window.hoverOver(misspeltCell, 'value-not-a-number');
  // Weighed from a session that is not open: its bytes came through the editor's file system.
  await window.page.locator('.codelens-decoration', { hasText: /1 session, \d+ samples/ }).waitFor();
});

scene('the vehicle and a trace in a browser without a server', { files: ['bench-car/vehicle.json'], web: true }, async (window) => {
  await openVehicle(window, 'Bench car');
  await unfold(window, /drive\.session\.csv/);
  const pull = row(window, /Pull 1/);
  await pull.filter({ hasText: /lean for 2\.\d s/ }).waitFor();
  await pull.hover();
  await pull.getByRole('button', { name: 'Open Trace' }).click();
  const { frame } = await traceIn(window);
  await frame.locator('.lane').nth(2).waitFor();
});

scene(
  'the sample car is copied in a browser without a server',
  { files: ['bench-car/vehicle.json'], web: true, writes: true },
  async (window) => {
    await window.command('Leanspot: Copy the Sample Car to a Folder…');
    await window.placeOffered('/');
    await window.page.locator('.quick-input-widget input[type="text"]').fill('/');
    // The oldest supported editor does not show the button's own word.
    await window.page
      .locator('.quick-input-widget')
      .getByRole('button', { name: /^(Copy Here|OK)$/ })
      .click();
    await window.notifications.filter({ hasText: 'The sample car is in bramble-coupe' }).waitFor();
    await openVehicle(window, 'Bramble coupe');
    await row(window, /Bramble coupe/)
      .filter({ hasText: /1 session, 2 tables/ })
      .waitFor();
  },
);

scene(
  'the report is made in a browser without a server, in the words of the pages in the package',
  { files: ['bench-car/vehicle.json'], web: true, writes: true },
  async (window) => {
    await openVehicle(window, 'Bench car');
    await window.command('Leanspot: Save the Report of This Vehicle');
    await window.placeOffered('.html');
    await window.page.keyboard.press('Enter');
    await window.notifications.filter({ hasText: 'The report of Bench car is saved' }).waitFor();
    const folder = join(window.folder, 'bench-car'),
      report = readdirSync(folder).find((name) => name.endsWith('.html'));
    assert.ok(report !== undefined);
    assert.match(readFileSync(join(folder, report), 'utf8'), /<code>cell-lean<\/code><\/dt><dd>[^<]{100}/);
  },
);
