// The package as it reaches a user: installed from its file, it copies the sample car that it carries, opens it, and leads through it.
import assert from 'node:assert/strict';
import { mkdirSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { EditorWindow } from '../editorWindow.js';
import { scene } from '../scene.js';
import { viewIn } from '../views.js';
import { removeFolder } from '../workspaceCopy.js';
import { traceIn } from './trace.js';
import { openVehicle, row } from './vehicle.js';

scene('the package, installed from its file, on the sample car that it carries', { files: [], installed: true }, async (window) => {
  const { page, folder } = window;
  // What was installed is found a moment after the window stands.
  await page.getByRole('tab', { name: /^Leanspot/ }).waitFor();
  await window.command('Leanspot: Copy the Sample Car to a Folder…');
  const input = page.locator('.quick-input-widget input[type="text"]');
  // The dialog writes where it begins by itself.
  await page.waitForFunction(
    (begins) => document.querySelector<HTMLInputElement>('.quick-input-widget input[type="text"]')?.value === begins,
    `${folder}/`,
  );
  // Beside the folder that is open, so that there is something to open.
  const beside = `${folder}-cars`;
  mkdirSync(join(beside, 'another car'), { recursive: true });
  await input.fill(`${beside}/`);
  await page.locator('.quick-input-widget .monaco-list-row', { hasText: 'another car' }).waitFor();
  await page.locator('.quick-input-widget').getByText('Copy Here').click();
  const offer = window.notifications.filter({ hasText: 'The sample car is in bramble-coupe' });
  await offer.waitFor();
  const [opened] = await Promise.all([page.context().waitForEvent('page'), offer.getByText('Open the Folder').click()]);
  const car = new EditorWindow(opened, join(beside, 'bramble-coupe'));
  try {
    await driveThrough(car);
  } finally {
    await opened.close();
    removeFolder(beside);
  }
});

/** From the first steps, which go on in the car's own window, to what each feature shows of the car. */
async function driveThrough(car: EditorWindow): Promise<void> {
  const { page, folder } = car;
  await car.ready();
  await page.locator('.gettingStartedContainer', { hasText: 'First steps with Leanspot' }).waitFor();
  await openVehicle(car, 'Bramble coupe');
  await row(car, /dyno\.session\.csv/)
    .first()
    .waitFor();
  await car.shot('installed-first-steps-go-on');
  await car.command('View: Close Primary Side Bar');
  await car.open('sessions/dyno.session.csv');
  await car.foundSomething();
  await car.goTo(173, 25);
  await car.squiggles('error').first().waitFor();
  await car.hoverOver('0.857', /Fuelled by/);
  await car.command('Leanspot: Open Trace');
  const { frame } = await traceIn(car);
  await frame.locator('.finding.error', { hasText: 'lean-under-load' }).first().waitFor();
  await car.shot('installed-trace');
  await car.command('View: Close All Editors');
  await car.open('tables/ve.table.csv');
  await page.locator('.codelens-decoration a', { hasText: /Correct \d+ proven cells/ }).waitFor();
  await car.command('Leanspot: Open Picture of This Table');
  const picture = await viewIn(page, 'body[data-view="table"]');
  await picture.locator('td', { hasText: '■' }).first().waitFor();
  await car.shot('installed-table');
  await car.command('Leanspot: Save the Report of This Vehicle');
  const input = page.locator('.quick-input-widget input[type="text"]');
  await page.waitForFunction(() =>
    document.querySelector<HTMLInputElement>('.quick-input-widget input[type="text"]')?.value.endsWith('.html'),
  );
  await input.press('Enter');
  await car.notifications.filter({ hasText: 'is saved' }).waitFor();
  const report = readdirSync(folder).find((name) => name.endsWith('.html'));
  assert.match(
    report ? readFileSync(join(folder, report), 'utf8') : '',
    /Not safe at full throttle[^]*<code>lean-under-load<\/code><\/dt><dd>[^<]{100}/,
  );
}
