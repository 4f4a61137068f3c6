// The vehicle in the side bar, as a person walks through it: down to a pull's worst moment and a cell, by mouse and by keys.
import type { Locator } from 'playwright-core';
import { leanLines } from '../benchCar.js';
import type { EditorWindow } from '../editorWindow.js';
import { scene } from '../scene.js';

const files = ['bench-car/vehicle.json'];

export const row = ({ page }: EditorWindow, text: string | RegExp): Locator =>
  page.locator('.pane-body .monaco-list-row[role="treeitem"]', { hasText: text });

/** The view, with everything checked and weighed. */
export async function openVehicle(window: EditorWindow, name: string): Promise<void> {
  await window.page
    .getByRole('tab', { name: /^Leanspot/ })
    .locator('a')
    .first()
    .click();
  await row(window, name).first().waitFor();
  await window.settled();
}

/** Opens a branch. Rows that come in just then move it from under the mouse: then the click met another, and is made again. */
export async function unfold(window: EditorWindow, text: string | RegExp, byKey?: () => Promise<void>): Promise<void> {
  const open = row(window, text).and(window.page.locator('[aria-expanded="true"]')).first();
  for (let tries = 4; (await open.count()) === 0; tries--) {
    await (byKey ? byKey() : row(window, text).first().locator('.monaco-tl-twistie').click());
    await open.waitFor({ timeout: 5000 }).catch((error: unknown) => {
      if (tries === 0) throw error;
    });
  }
}

scene('the vehicle in the side bar leads to the worst moment of a pull', { files }, async (window) => {
  await openVehicle(window, 'Bench car');
  await row(window, /1 session, \d tables/)
    .first()
    .waitFor();
  await unfold(window, /drive\.session\.csv/);
  const pull = row(window, /Pull 1/);
  await pull.filter({ hasText: /lean for 2\.\d s: λ 0\.9\d \(target 0\.83\) at \d+ rpm, 16\d kPa, 4[34]\.\d\d s/ }).waitFor();
  await pull.click();
  await window.tab('drive.session.csv').waitFor();
  await window.page.locator('.statusbar-item', { hasText: /Ln \d{3},/ }).waitFor();
  const status = (await window.page.locator('.statusbar-item', { hasText: /Ln \d+, Col/ }).textContent())!;
  const line = Number(/Ln (\d+)/.exec(status)![1]);
  if (line < leanLines.first + 1 || line > leanLines.last + 1) throw new Error(`the worst moment is not among the lean rows: ${status}`);
});

scene('a cell in the side bar is opened by keys', { files: ['samples/bramble-coupe/vehicle.json'] }, async (window) => {
  await openVehicle(window, 'Bramble coupe');
  const table = row(window, /ve\.table\.csv/);
  await table.filter({ hasText: /cells: \d+ firm, \d+ thin/ }).waitFor();
  await table.click();
  const { keyboard } = window.page;
  await unfold(window, /ve\.table\.csv/, () => keyboard.press('ArrowRight'));
  await row(window, /^Firm/).waitFor();
  await keyboard.press('ArrowDown');
  await unfold(window, /^Firm/, () => keyboard.press('ArrowRight'));
  const cell = row(window, /% (lean|rich)/).first();
  await cell.waitFor();
  await keyboard.press('ArrowDown');
  await keyboard.press('Enter');
  await window.tab('ve.table.csv').waitFor();
  // Read aloud: the name and its words.
  const label = await cell.getAttribute('aria-label');
  if (!/rpm.*% (lean|rich)/.test(label ?? '')) throw new Error(`is read as ${label}`);
});

scene('the trace of a pull from the side bar', { files }, async (window) => {
  await openVehicle(window, 'Bench car');
  await unfold(window, /drive\.session\.csv/);
  const pull = row(window, /Pull 1/);
  await pull.hover();
  await pull.getByRole('button', { name: 'Open Trace' }).click();
  await window.page.locator('.tabs-container .tab', { hasText: 'Trace: drive.session.csv' }).waitFor();
});

scene(
  'a folder that is not trusted offers no correction in the side bar',
  { files: ['samples/bramble-coupe/vehicle.json'], trusted: false },
  async (window) => {
    await openVehicle(window, 'Bramble coupe');
    const table = row(window, /ve\.table\.csv/);
    await table.filter({ hasText: /cells: \d+ firm/ }).waitFor();
    await table.hover();
    if ((await table.getByRole('button').count()) > 0) throw new Error('a correction is offered');
  },
);
