// What a person sees who opens the picture of a fuel table beside its text, and what he does there.
import assert from 'node:assert/strict';
import type { Frame, Locator } from 'playwright-core';
import { restoring, type EditorWindow } from '../editorWindow.js';
import { scene, themes, type Theme } from '../scene.js';
import { accessible, viewIn } from '../views.js';

const sample = 'samples/bramble-coupe/tables/ve.table.csv';
const bench = 'bench-car/tables/fuel.table.csv';
const settings = { 'editor.minimap.enabled': false, 'editor.fontSize': 12 };

/** Opens the picture of the active table, with room for it, and waits until its cells are drawn. */
async function openPicture(window: EditorWindow): Promise<Frame> {
  await window.settled();
  await window.command('View: Toggle Primary Side Bar Visibility');
  await window.command('Leanspot: Open Picture of This Table');
  return viewIn(window.page, 'body[data-view="table"]');
}

/** The cell of a row and column, counted from 0. */
const cell = (frame: Frame, row: number, column: number): Locator =>
  frame.locator('table.cells tbody tr').nth(row).locator('td').nth(column);
const focused = (frame: Frame): Locator => frame.locator('td:focus');
const cursorOn = (window: EditorWindow, words: string | RegExp): Promise<void> =>
  window.page.locator('.statusbar-item', { hasText: words }).first().waitFor();
/** So many stretches are selected in the text, which need not have the focus. */
const selectedInText = (window: EditorWindow, count: number): Promise<unknown> =>
  window.page.waitForFunction((wanted) => document.querySelectorAll('.editor-instance .selected-text').length === wanted, count);

scene("a table's picture beside its text", { files: [sample], settings }, async (window) => {
  const frame = await openPicture(window);
  await frame.locator('i.bar:not([hidden])').first().waitFor();
  await frame.locator('td', { hasText: '■' }).first().waitFor();
  // The lean spot of the sample: the row of 170 kPa at 5200 rpm.
  await cell(frame, 10, 11).click();
  await frame.locator('.details h2', { hasText: '5200 rpm, 170 kPa' }).waitFor();
  await selectedInText(window, 1);
  await frame.locator('#way-session').selectOption({ label: 'hill.session.csv' });
  await frame.locator('#way-run').waitFor();
  await frame.locator('svg.way .worst').waitFor();
  await accessible(frame);
  for (const theme of Object.keys(themes) as Theme[]) {
    await window.wear(theme);
    await accessible(frame);
  }
});

scene("a table's picture by keyboard alone", { files: [sample], settings }, async (window) => {
  const frame = await openPicture(window);
  const press = async (...keys: string[]): Promise<void> => {
    for (const key of keys) await window.page.keyboard.press(key);
  };
  await focused(frame).waitFor();
  await press('Control+Home', 'ArrowDown', 'ArrowRight', 'ArrowRight');
  await frame.locator('.details h2', { hasText: '1600 rpm, 35 kPa' }).waitFor();
  await selectedInText(window, 1);
  await press('Shift+ArrowRight', 'Shift+ArrowDown');
  await selectedInText(window, 4);
  if ((await frame.locator('td[aria-selected="true"]').count()) !== 4) throw new Error('not four cells are selected');
  await press('3');
  await frame.locator('input[value="evidence"]:checked').waitFor();
  await press('4');
  await frame.locator('input[value="duty"]:checked').waitFor();
  await press('1', 's');
  await frame.locator('input[value="column"]:checked').waitFor();
  await press('?');
  await frame.locator('dialog[open]').waitFor();
  await press('Escape');
  await accessible(frame);
  await press('Control+End', 'Enter');
  await cursorOn(window, 'Ln 18, Col 101 (4 selected)');
  // Back to the picture with the editor's own key for the next group.
  await window.command('View: Focus Next Editor Group');
  await focused(frame).waitFor();
});

scene("a table's picture follows the text", { files: [bench], settings }, async (window) => {
  const frame = await openPicture(window);
  await window.page.locator('.editor-instance .view-lines').first().click();
  await window.goTo(5, 12);
  await frame.locator('td[aria-selected="true"]', { hasText: /./ }).first().waitFor();
  await frame.locator('.details h2', { hasText: '1000 rpm, 40 kPa' }).waitFor();
  await window.page.keyboard.press('Shift+End');
  await frame.waitForFunction(() => document.querySelectorAll('td[aria-selected="true"]').length === 6);
  await frame.locator('input[value="value"]').check();
  await window.page.locator('.editor-instance .view-lines').first().click();
  await window.goTo(5, 11);
  await window.page.keyboard.type('9');
  await cell(frame, 0, 0).filter({ hasText: '945.0' }).waitFor();
  await window.page.keyboard.press('Control+z');
  await cell(frame, 0, 0)
    .filter({ hasText: /^45\.0/ })
    .waitFor();
});

scene("cells of a table's picture are selected by dragging", { files: [sample], settings }, async (window) => {
  const frame = await openPicture(window);
  const [a, b] = [(await cell(frame, 2, 3).boundingBox())!, (await cell(frame, 4, 6).boundingBox())!];
  await window.page.mouse.move(a.x + 10, a.y + 10);
  await window.page.mouse.down();
  await window.page.mouse.move(b.x + 10, b.y + 10, { steps: 6 });
  await window.page.mouse.up();
  await frame.locator('.details', { hasText: '12 cells selected' }).waitFor();
  await selectedInText(window, 12);
});

scene("the selected cells of a table's picture are corrected", { files: [sample], settings }, async (window) => {
  const frame = await openPicture(window);
  // Round the lean spot: two rows of three.
  await cell(frame, 10, 10).click();
  await cell(frame, 11, 12).click({ modifiers: ['Shift'] });
  await frame.getByRole('button', { name: 'Correct the 6 selected cells' }).click();
  const dialog = window.page.locator('.monaco-dialog-box', { hasText: /Correct the \d selected cells that are proven/ });
  await dialog.getByText('Show the Changes').click();
  const preview = window.page.locator('.bulk-edit-panel');
  // The three that are proven, between the earlier table and the pins.
  const changes = preview.locator('.monaco-list-row[aria-level="2"]');
  await changes.nth(4).waitFor();
  assert.equal(await changes.count(), 5);
});

scene("from a cell of a table's picture to its moments and its correction", { files: [sample], settings }, async (window) => {
  const frame = await openPicture(window);
  await cell(frame, 10, 11).click();
  await frame.getByRole('button', { name: 'Correct this cell' }).click();
  await window.page.locator('.monaco-dialog-box', { hasText: /Correct this cell/ }).waitFor();
  await window.page.keyboard.press('Escape');
  await frame.getByRole('button', { name: 'Its moments in the trace' }).click();
  await window.page.locator('.quick-input-widget .monaco-list-row', { hasText: 'hill' }).click();
  const trace = await viewIn(window.page, 'body[data-view="trace"]');
  await trace.locator('.finding', { hasText: 'visits in this session' }).first().waitFor();
});

scene("a table's picture comes back as it was left", { files: [sample], settings: { ...settings, ...restoring } }, async (window) => {
  const frame = await openPicture(window);
  await frame.locator('input[value="evidence"]').check();
  await cell(frame, 10, 11).click();
  await frame.locator('#way-session').selectOption({ label: 'dyno.session.csv' });
  await frame.locator('svg.way').waitFor();
  await window.reload();
  const again = await viewIn(window.page, 'body[data-view="table"]');
  await again.locator('input[value="evidence"]:checked').waitFor();
  await again.locator('.details h2', { hasText: '5200 rpm, 170 kPa' }).waitFor();
  await again.locator('svg.way').waitFor();
});

scene("a one-dimensional table's picture", { files: ['bench-car/tables/warmup.table.csv'], settings }, async (window) => {
  await window.settled();
  await window.command('View: Toggle Primary Side Bar Visibility');
  await window.command('Leanspot: Open Picture of This Table');
  const frame = await viewIn(window.page, 'body[data-view="table"]');
  await cell(frame, 0, 1).click();
  await frame.locator('.slice-drawing').waitFor();
  await frame.locator('.details h2', { hasText: '20 °C' }).waitFor();
  await accessible(frame);
});
