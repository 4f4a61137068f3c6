// A car whose files are written by someone who means harm, looked at in every view: what they say is shown as it is written, and does
// nothing.
import assert from 'node:assert/strict';
import type { Frame } from 'playwright-core';
import { HOSTILE_PAGE } from '../../trust/hostile.js';
import type { EditorWindow } from '../editorWindow.js';
import { scene } from '../scene.js';
import { viewIn } from '../views.js';
import { hostileCarName, hostileFileName } from '../workspaceCopy.js';
import { openVehicle, row, unfold } from './vehicle.js';

const session = `${hostileCarName}/sessions/first ${hostileFileName}.session.csv`;
const table = `${hostileCarName}/tables/${hostileFileName}.table.csv`;
const settings = { 'editor.minimap.enabled': false };

/** Fails at once where a page opens a dialog of its own: only a script does. */
const noDialogs = ({ page }: EditorWindow): void => {
  page.on('dialog', (dialog) => {
    throw new Error(`a script ran: ${dialog.message()}`);
  });
};

/** A view holds its own script and nothing else that loads, runs or leads away. */
async function onlyText(frame: Frame): Promise<void> {
  const found = await frame.evaluate(() => ({
    foreign: [...document.querySelectorAll('img, iframe, object, embed, a, link, base, form, foreignObject, image, use')]
      .map(({ outerHTML }) => outerHTML)
      .filter((tag) => !/^<link rel="stylesheet" href="[^"]+\/views\.css">$/.test(tag)),
    scripts: [...document.body.querySelectorAll('script')].map(({ src, textContent }) => `${src.replace(/.*\//, '')}${textContent}`),
    handlers: [...document.body.querySelectorAll('*')].flatMap(({ attributes }) =>
      [...attributes].filter(({ name }) => name.startsWith('on')).map(({ name }) => name),
    ),
  }));
  assert.deepEqual(found.foreign, []);
  assert.deepEqual(found.handlers, []);
  assert.ok(
    found.scripts.every((script) => script === 'views.js'),
    found.scripts.join(),
  );
}

scene("hostile files in a table's picture", { files: [table], settings }, async (window) => {
  noDialogs(window);
  await window.settled();
  await window.command('View: Toggle Primary Side Bar Visibility');
  await window.command('Leanspot: Open Picture of This Table');
  const frame = await viewIn(window.page, 'body[data-view="table"]');
  // The cell that is no number but a piece of markup, and the session by its name.
  await frame.locator('table.cells tbody tr').nth(2).locator('td').nth(3).click();
  await frame.locator('.details', { hasText: HOSTILE_PAGE }).waitFor();
  await frame.locator('#way-session').selectOption({ label: `then ${hostileFileName}.session.csv` });
  await frame.locator('svg.way').waitFor();
  await onlyText(frame);
});

scene('hostile files in a trace', { files: [session], settings }, async (window) => {
  noDialogs(window);
  await window.foundSomething();
  await window.command('View: Toggle Primary Side Bar Visibility');
  await window.command('Leanspot: Open Trace');
  const frame = await viewIn(window.page, 'body[data-view="trace"]');
  await frame.locator('.lane').nth(2).waitFor();
  await frame
    .locator('.finding', { hasText: HOSTILE_PAGE.slice(0, 20) })
    .first()
    .waitFor();
  await onlyText(frame);
});

scene('hostile files in hovers, problems and the side bar', { files: [session], settings }, async (window) => {
  noDialogs(window);
  await window.foundSomething();
  await openVehicle(window, HOSTILE_PAGE);
  await unfold(window, `first ${hostileFileName}.session.csv`);
  await row(window, /Pull 1/)
    .first()
    .waitFor();
  const problems = await window.problems('<img');
  await problems.first().waitFor();
  const body = window.page.locator('body');
  for (const inert of ['img[src="x"]', 'a[href^="command:workbench.action.terminal"]', 'a[data-href^="command:workbench.action.terminal"]'])
    assert.equal(await body.locator(inert).count(), 0, inert);
});
