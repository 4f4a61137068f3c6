// The first steps, as a newcomer takes them: the walkthrough from one end to the other, and the sample car that it begins with.
import assert from 'node:assert/strict';
import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import type { Locator } from 'playwright-core';
import type { EditorWindow } from '../editorWindow.js';
import { root } from '../places.js';
import { scene } from '../scene.js';
import { keepPicture } from '../smallPicture.js';
import { traceIn } from './trace.js';
import { openVehicle, row, unfold } from './vehicle.js';

const walkthrough = 'First steps with Leanspot';
const sample = join(root, 'client/sample/bramble-coupe');

const openFirstSteps = async ({ page }: EditorWindow): Promise<void> => {
  await page
    .getByRole('button', { name: 'Take the First Steps' })
    .or(page.getByRole('link', { name: 'Take the First Steps' }))
    .first()
    .click();
};
/** A step of the walkthrough, by its title. */
const step = ({ page }: EditorWindow, title: string): Locator => page.locator('.getting-started-step', { hasText: title });

const ticked = (window: EditorWindow, title: string): Promise<void> =>
  step(window, title).locator('.codicon-getting-started-step-checked').first().waitFor();

scene('the sample car is copied from the walkthrough, and nothing is overwritten', { files: [], writes: true }, async (window) => {
  const { page, folder } = window;
  // Somebody's folder of that name is there already.
  mkdirSync(join(folder, 'bramble-coupe'));
  writeFileSync(join(folder, 'bramble-coupe/notes.txt'), 'mine');
  await page
    .getByRole('tab', { name: /^Leanspot/ })
    .locator('a')
    .first()
    .click();
  await openFirstSteps(window);
  await page.locator('.gettingStartedContainer', { hasText: walkthrough }).waitFor();
  await step(window, 'Take a car').getByText('Copy the Sample Car to a Folder…').click();
  const input = page.locator('.quick-input-widget input[type="text"]');
  await input.waitFor();
  await window.shot('where-the-sample-car-is-copied-to');
  // The dialog begins in the folder that is open, and takes no answer before it has gone there.
  await page.waitForFunction(
    (begins) => document.querySelector<HTMLInputElement>('.quick-input-widget input[type="text"]')?.value === begins,
    `${folder}/`,
  );
  await page.locator('.quick-input-widget .monaco-list-row', { hasText: 'bramble-coupe' }).first().waitFor();
  await page.locator('.quick-input-widget').getByText('Copy Here').click();
  await window.notifications.filter({ hasText: 'bramble-coupe-2' }).waitFor();
  assert.equal(readFileSync(join(folder, 'bramble-coupe/notes.txt'), 'utf8'), 'mine');
  for (const file of ['vehicle.json', 'README.md', 'sessions/dyno.session.csv', 'tables/ve.table.csv']) {
    assert.deepEqual(readFileSync(join(folder, 'bramble-coupe-2', file)), readFileSync(join(sample, file)));
  }
  assert.ok(!existsSync(join(folder, 'bramble-coupe/sessions')));
  await ticked(window, 'Take a car');
});

const car = 'bramble-coupe';

scene(
  'the first steps on the sample car',
  { files: [`${car}/vehicle.json`], pictures: true, writes: true, settings: { 'editor.minimap.enabled': false, 'editor.fontSize': 12 } },
  async (window) => {
    const { page, folder } = window;
    const take = async (title: string, button: string): Promise<void> => {
      await page.locator('.tabs-container .tab', { hasText: 'Walkthrough' }).click();
      await step(window, title).locator('.step-title').click();
      await step(window, title).getByText(button).click();
    };
    /** The picture of a step: a part of the page, from the upper left corner of what is shown there. */
    const keep = async (
      id: string,
      of: Locator,
      { left = 0, top = 0, width, height }: { left?: number; top?: number; width: number; height: number },
      colours?: number,
    ): Promise<void> => {
      const { x, y } = (await of.boundingBox())!;
      await keepPicture(page, page, `walk-${id}`, { x: x + left, y: y + top, width, height }, colours);
    };
    await openVehicle(window, 'Bramble coupe');
    await unfold(window, 'dyno.session.csv');
    await row(window, /Pull 6/).waitFor();
    await keep('sample', page.locator('.part.sidebar .pane-body').first(), { width: 299, height: 176 });
    await window.command('View: Close Primary Side Bar');
    await window.command('Welcome: Open Walkthrough...', walkthrough);

    await take('See where it is not safe', 'Show the Lean Spot');
    await window.squiggles('error').first().waitFor();
    await keep('finding', page.locator('.editor-instance .active-line-number').last(), { top: -32, width: 360, height: 112 });
    await take('Ask a reading', 'Ask the Reading');
    const hover = page.locator('.monaco-hover:visible');
    await hover.filter({ hasText: 'Fuelled by' }).waitFor();
    await take('See it drawn', 'Open the Trace');
    const { frame } = await traceIn(window);
    await frame.locator('.where strong').waitFor();
    await keep('trace', page.locator('iframe.webview:visible'), { top: 30, width: 366, height: 112 });
    await take('Ask a cell', 'Ask the Leanest Cell');
    await hover.filter({ hasText: 'Samples' }).waitFor();
    await take('Look at a correction', 'Preview the Correction');
    await page.locator('.monaco-dialog-box').getByText('Show the Changes').click();
    const preview = page.locator('.bulk-edit-panel');
    await preview.getByText('ve-1.table.csv').waitFor();
    await preview.locator('.monaco-list-row[aria-level="2"]').nth(3).waitFor();
    await keep('correction', preview, { top: 46, width: 470, height: 92 }, 32);
    await preview.getByText('Discard', { exact: true }).click();
    await take('Hand it over', 'Write the Report');
    await window.placeOffered('.html');
    await page.keyboard.press('Enter');
    await window.notifications.filter({ hasText: 'is saved' }).waitFor();
    for (const title of ['See where', 'Ask a reading', 'See it drawn', 'Ask a cell', 'Look at a correction', 'Hand it over'])
      await ticked(window, title);
    const report = readdirSync(join(folder, car)).find((name) => name.endsWith('.html'));
    assert.ok(report);
    const reader = await page.context().newPage();
    await reader.setViewportSize({ width: 440, height: 330 });
    await reader.goto(pathToFileURL(join(folder, car, report)).href);
    await keepPicture(reader, page, 'walk-report', { x: 0, y: 0, width: 440, height: 240 });
    await reader.close();
  },
);
