// What a person sees of the evidence: the reading that speaks of a cell, the table with what is proven, the correction before and after it
// is taken.
import assert from 'node:assert/strict';
import { existsSync, readFileSync, watch } from 'node:fs';
import { join } from 'node:path';
import type { Locator } from 'playwright-core';
import type { EditorWindow } from '../editorWindow.js';
import { scene } from '../scene.js';

const diskLimitMs = 20_000;
const car = 'samples/bramble-coupe';
const hill = `${car}/sessions/hill.session.csv`;
const table = `${car}/tables/ve.table.csv`;
/** A table of sixteen columns with factors in it wants room. */
const room = {
  'editor.fontSize': 11,
  'editor.minimap.enabled': false,
  'workbench.sideBar.location': 'right',
  'workbench.activityBar.location': 'hidden',
};

scene(
  'a reading of the sample explains itself',
  { files: [hill], settings: { 'editor.fontSize': 12, 'editor.minimap.enabled': false }, pictures: true },
  async (window) => {
    await window.settled();
    await window.command('View: Close Primary Side Bar');
    // A reading at full throttle near 4000 rpm, with its neighbours so that it is found where it stands: throttle, AFR, target.
    const { line, words } = readFileSync(join(window.folder, hill), 'utf8')
      .split('\n')
      .map((text, at) => ({ line: at + 1, cells: text.split(',') }))
      .filter(({ cells }) => Number(cells[4]) > 99)
      .map(({ line: at, cells }) => ({ line: at, off: Math.abs(Number(cells[1]) - 4000), words: cells.slice(4, 7).join(',') }))
      .reduce((best, each) => (each.off < best.off ? each : best));
    await window.goTo(line);
    await window.hoverOver(words, /Fuelled by/);
    await window.keep('reading-hover');
  },
);

scene('the fuel table of the sample with what is proven', { files: [table], settings: room, pictures: true }, async (window) => {
  await window.settled();
  await window.command('View: Close Primary Side Bar');
  await window.page.locator('.codelens-decoration a', { hasText: /Correct \d+ proven cells/ }).waitFor();
  await window.page.locator('.editor-instance .view-line', { hasText: '×' }).first().waitFor();
  await window.keep('fuel-table');
});

/**
 * Takes what the lens offers, every proven correction, by way of the cautions and the preview, and holds the saved files to what a
 * correction is. Answers with the lens, which is gone.
 */
async function takeCorrection(window: EditorWindow, pictured: { cautions(): Promise<void>; preview(): Promise<void> }): Promise<Locator> {
  const { page } = window;
  const [tableBefore] = bothOnDisk(window);
  await window.settled();
  await window.command('View: Close Primary Side Bar');
  const offer = page.locator('.codelens-decoration a', { hasText: /Correct \d+ proven cells/ });
  const offered = page.locator('.codelens-decoration a', { hasText: await offer.innerText() });
  await offered.click();
  const dialog = page.locator('.monaco-dialog-box');
  await dialog.filter({ hasText: 'A qualified person decides' }).waitFor();
  await pictured.cautions();
  await dialog.getByText('Show the Changes').click();
  const preview = page.locator('.bulk-edit-panel');
  const tick = (file: string) => preview.locator('.monaco-list-row[aria-level="1"]', { hasText: file }).locator('input[type="checkbox"]');
  await preview.getByText('ve-1.table.csv').waitFor();
  // The copy and the pins are taken in any case; the cells wait to be chosen.
  assert.equal(await tick('ve-1.table.csv').isChecked(), true);
  assert.equal(await tick('ve.table.csv').isChecked(), false);
  await tick('ve.table.csv').check();
  await preview.locator('.monaco-list-row[aria-level="2"] input:not(:checked)').first().waitFor({ state: 'detached' });
  await pictured.preview();
  await preview.getByText('Apply', { exact: true }).click();
  await offered.waitFor({ state: 'detached' });
  await window.command('File: Save All Files');
  // While a file is written it may be seen empty.
  await untilDisk(
    join(window.folder, car),
    () =>
      !onDisk(window, 'tables/ve.table.csv').equals(tableBefore) &&
      existsSync(join(window.folder, car, 'tables/history/ve-1.table.csv')) &&
      onDisk(window, 'tables/history/ve-1.table.csv').equals(tableBefore) &&
      /"loggedWith": "tables\/history\/ve-1\.table\.csv"/.test(onDisk(window, 'vehicle.json').toString()),
  );
  return offered;
}

const onDisk = (window: EditorWindow, path: string): Buffer => readFileSync(join(window.folder, car, path));
const bothOnDisk = (window: EditorWindow): [table: Buffer, vehicle: Buffer] => [
  onDisk(window, 'tables/ve.table.csv'),
  onDisk(window, 'vehicle.json'),
];

scene(
  'a correction is previewed, taken, and undone to the byte',
  { files: [table], settings: room, writes: true, pictures: true },
  async (window) => {
    const before = bothOnDisk(window);
    const preview = async (): Promise<void> => {
      // The changed numbers are what he wants to see.
      const changes = window.page.locator('.bulk-edit-panel .monaco-list').first();
      for (const key of ['Home', 'ArrowLeft', 'ArrowDown', 'ArrowRight']) await changes.press(key);
      await window.page.locator('.bulk-edit-panel .monaco-list-row[aria-level="2"]').nth(3).waitFor();
      await window.page.locator('.multiDiffEditor .view-lines').first().waitFor();
      await window.keep('correction-preview');
      await window.shotInAllThemes('a-correction-is-previewed');
    };
    const offered = await takeCorrection(window, { cautions: () => window.shot('a-correction-says-its-cautions'), preview });
    await window.shot('a-correction-is-taken');

    await window.open(table);
    await window.page.locator('.editor-instance .view-lines').first().click();
    await window.page.keyboard.press('Control+z');
    await offered.waitFor();
    await window.command('File: Save All Files');
    await untilDisk(
      join(window.folder, car),
      () =>
        bothOnDisk(window).every((now, at) => now.equals(before[at]!)) &&
        !existsSync(join(window.folder, car, 'tables/history/ve-1.table.csv')),
    );
  },
);

scene('a correction in a browser without a server is previewed and taken', { files: [table], web: true, writes: true }, async (window) => {
  const quietly = async (): Promise<void> => undefined;
  await takeCorrection(window, { cautions: quietly, preview: quietly });
});

/** Waits until the files of a folder are as expected: saving tells nobody outside when it has, but the file system does. */
async function untilDisk(folder: string, holds: () => boolean): Promise<void> {
  const changes = watch(folder, { recursive: true });
  try {
    await new Promise<void>((resolve, reject) => {
      const look = (): void => {
        try {
          if (holds()) resolve();
        } catch (error) {
          reject(error as Error);
        }
      };
      const timer = setTimeout(() => reject(new Error('the files on disk are not as expected')), diskLimitMs);
      changes
        .on('change', look)
        .on('error', reject)
        .once('close', () => clearTimeout(timer));
      look();
    });
  } finally {
    changes.close();
  }
}
