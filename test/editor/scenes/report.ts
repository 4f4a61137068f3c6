// The page to hand over, as a person has it written, and what lies there then.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { scene } from '../scene.js';
import { keepPicture, MANY } from '../smallPicture.js';

const car = 'samples/bramble-coupe';

scene('the report of the sample is written and read', { files: [`${car}/vehicle.json`], pictures: true, writes: true }, async (window) => {
  const { page, folder } = window;
  await window.settled();
  await page.locator('.explorer-folders-view .monaco-list-row', { hasText: 'vehicle.json' }).click({ button: 'right' });
  await page.getByRole('menuitem', { name: 'Save the Report of This Vehicle' }).hover();
  // A menu takes no click in its first moment.
  await page.keyboard.press('Enter');
  // The place offered is in the car's folder, under the day.
  const path = await window.placeOffered('.html');
  assert.match(path.slice(join(folder, car).length), /^\/report-\d{4}-\d\d-\d\d\.html$/);
  await page.keyboard.press('Enter');
  await window.notifications.filter({ hasText: 'The report of Bramble coupe is saved' }).waitFor();

  const reader = await page.context().newPage();
  const asked: string[] = [];
  reader.on('request', (request) => asked.push(request.url()));
  await reader.setViewportSize({ width: 980, height: 640 });
  await reader.goto(pathToFileURL(path).href);
  assert.equal((await reader.title()).replace(/ of [\d-]+$/, ''), 'Bramble coupe: engine report');
  assert.ok((await reader.locator('svg').count()) > 3, 'plots and the table are drawn');
  assert.match(await reader.locator('body').innerText(), /Not safe at full throttle[\s\S]*5200 rpm, 170 kPa[\s\S]*SHA-256/i);
  assert.deepEqual(asked, [pathToFileURL(path).href], 'nothing else is loaded');
  assert.ok(!/<script/i.test(readFileSync(path, 'utf8')));
  await keepPicture(reader, page, 'report', { x: 0, y: 0, width: 980, height: 640 }, MANY);
  await reader.close();
});
