// What a person sees who opens the trace of a session with a lean spot in its pull, and what he does there.
import { readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Frame, Locator } from 'playwright-core';
import { leanLines } from '../benchCar.js';
import { restoring, type EditorWindow } from '../editorWindow.js';
import { scene } from '../scene.js';
import { accessible, viewIn } from '../views.js';

const files = ['bench-car/sessions/drive.session.csv'];
const leanFinding = '.finding.error';

interface TraceView {
  frame: Frame;
  plots: Locator;
  said: Locator;
}

/** Opens the trace of the active session, with room for it, and waits until its lanes are drawn. */
async function openTrace(window: EditorWindow): Promise<TraceView> {
  await window.foundSomething();
  await window.command('View: Toggle Primary Side Bar Visibility');
  await window.command('Leanspot: Open Trace');
  return traceIn(window);
}

export async function traceIn({ page }: EditorWindow): Promise<TraceView> {
  const frame = await viewIn(page, 'body[data-view="trace"]');
  return { frame, plots: frame.locator('#plots'), said: frame.locator('#said') };
}

/** The text's cursor is on a line, counted from 1. */
const cursorOn = (window: EditorWindow, line: number): Locator =>
  window.page.locator('.statusbar-item', { hasText: new RegExp(`Ln ${line},`) });

scene('a trace beside its text', { files }, async (window) => {
  const view = await openTrace(window);
  await view.frame.locator('.lane').nth(3).waitFor();
  await view.frame.locator(leanFinding, { hasText: 'lean-under-load' }).first().waitFor();
  await accessible(view.frame);
});

scene(
  'a lean pull of the sample in the trace beside its text',
  {
    files: ['samples/bramble-coupe/sessions/hill.session.csv'],
    settings: { 'editor.fontSize': 12, 'editor.minimap.enabled': false },
    pictures: true,
  },
  async (window) => {
    const { frame, plots } = await openTrace(window);
    // The third is a long pull through the lean spot; its worst moment lies in the middle of what is then shown.
    await frame.locator(leanFinding, { hasText: 'lean-under-load' }).nth(2).click();
    await frame.locator('.line.cursor:not([hidden])').waitFor();
    const { x, y, width, height } = (await frame.locator('.lane .plot').first().boundingBox())!;
    await window.page.mouse.click(x + width * 0.52, y + height / 2);
    await frame.locator('.where', { hasText: 'pull' }).waitFor();
    await frame.locator('.where', { hasText: /ve\.table\.csv/ }).waitFor();
    // Nearer, so that the pull fills the lanes; the readings stand at the top of their column.
    await plots.focus();
    for (const key of ['+', 'f']) await window.page.keyboard.press(key);
    await frame.locator('aside').evaluate((aside) => {
      aside.scrollTop = 0;
    });
    await window.keep('trace');
  },
);

scene('a finding opens its spell in the trace and its row in the text', { files }, async (window) => {
  const { frame } = await openTrace(window);
  await frame.locator(leanFinding, { hasText: 'lean-under-load' }).first().click();
  await frame.locator('.line.cursor:not([hidden])').waitFor();
  await frame.locator('.where', { hasText: 'pull' }).waitFor();
  await frame.locator('.where', { hasText: /fuel\.table\.csv/ }).waitFor();
  await window.page.locator('.editor-instance .view-overlays .current-line').first().waitFor();
});

scene('the trace follows the cursor in the text', { files }, async (window) => {
  const { frame, said } = await openTrace(window);
  await window.page.locator('.editor-instance .view-lines').first().click();
  await window.goTo(leanLines.first + 1);
  await frame.locator('.where', { hasText: `Row ${leanLines.first + 1}` }).waitFor();
  await said.filter({ hasText: `Row ${leanLines.first + 1}` }).waitFor({ state: 'attached' });
});

scene('the trace by keyboard alone', { files }, async (window) => {
  const view = await openTrace(window);
  const { frame, plots, said } = view;
  const press = async (...keys: string[]): Promise<void> => {
    for (const key of keys) await window.page.keyboard.press(key);
  };
  await plots.focus();
  await press('n', 'n');
  await frame.locator('.where', { hasText: `Row ${leanLines.first + 1}` }).waitFor();
  await press('+', 'm');
  await frame.locator('.line.mark:not([hidden])').waitFor({ state: 'attached' });
  await press('Shift+ArrowRight');
  await frame.locator('.readout.spanned').waitFor();
  await press('ArrowDown', 'ArrowDown', 'Alt+ArrowUp');
  await frame.locator('.lane').nth(1).locator('.head', { hasText: 'Engine Speed' }).waitFor();
  await press('?');
  await frame.locator('dialog[open]').waitFor();
  await press('Escape');
  await said.filter({ hasText: 'Engine Speed' }).waitFor({ state: 'attached' });
  await press('Enter');
  await cursorOn(window, leanLines.first + 1)
    .or(window.page.locator('.statusbar-item', { hasText: /Ln 8\d\d,/ }))
    .first()
    .waitFor();
});

scene('pulls against engine speed', { files: ['samples/bramble-coupe/sessions/dyno.session.csv'] }, async (window) => {
  const view = await openTrace(window);
  await view.frame.getByLabel('Engine speed', { exact: true }).check();
  await view.frame.locator('.head', { hasText: 'lambda, difference from' }).waitFor();
  await view.frame.locator('.lane .plot').first().click();
  await view.frame.locator('.where', { hasText: 'pull' }).waitFor();
  await accessible(view.frame);
});

scene('pulls laid over each other from their start', { files: ['samples/bramble-coupe/sessions/dyno.session.csv'] }, async (window) => {
  const { frame, plots } = await openTrace(window);
  await plots.focus();
  await window.page.keyboard.press('x');
  await window.page.keyboard.press('x');
  await frame.locator('#align').waitFor();
  await frame.locator('#align').selectOption('match');
  await frame.locator('.head', { hasText: 'lambda, difference from' }).waitFor();
});

scene('more pulls than colours on a light ground', { files: ['samples/bramble-coupe/sessions/dyno.session.csv'] }, async (window) => {
  const { frame, plots } = await openTrace(window);
  await plots.focus();
  await window.page.keyboard.press('x');
  const boxes = frame.locator('.runs li input[type="checkbox"]');
  for (let run = 0; run < 7; run++) await boxes.nth(run).check();
  // Five colours there: the sixth and the seventh have those of the first two.
  await window.wear('light');
  await frame.locator('.run-legend', { hasText: /short dashes.*short dashes/ }).waitFor();
  const lines = await frame
    .locator('.run-legend line')
    .evaluateAll((all) => all.map((line) => `${line.getAttribute('stroke')} ${line.getAttribute('stroke-dasharray')}`));
  if (lines.length < 7 || new Set(lines).size !== lines.length) throw new Error(`two lines are alike: ${lines.join('; ')}`);
});

scene('from a point of the trace to the cell that fuelled it', { files }, async (window) => {
  const { frame, plots } = await openTrace(window);
  await frame.locator(leanFinding, { hasText: 'lean-under-load' }).first().click();
  await frame.locator('.where', { hasText: /fuel\.table\.csv/ }).waitFor();
  await plots.focus();
  await window.page.keyboard.press('c');
  await window.page.locator('.tabs-container .tab', { hasText: 'fuel.table.csv' }).waitFor();
});

scene("a cell's moments in the trace", { files: ['bench-car/tables/fuel.table.csv'] }, async (window) => {
  await window.foundSomething();
  await window.command('View: Toggle Primary Side Bar Visibility');
  await window.goTo(8, 37);
  await window.command("Leanspot: Show This Cell's Moments in the Trace");
  const { frame } = await traceIn(window);
  await frame.locator('.finding', { hasText: 'visits in this session' }).first().waitFor();
});

scene('a session as a picture in place of its text', { files: ['samples/bramble-coupe/sessions/hill.session.csv'] }, async (window) => {
  await window.foundSomething();
  const input = window.page.locator('.quick-input-widget input[type="text"]');
  await window.page.keyboard.press('F1');
  await input.fill('>View: Reopen Editor With...');
  await window.page.locator('.quick-input-widget .monaco-list-row.focused', { hasText: 'Reopen Editor With' }).waitFor();
  await input.press('Enter');
  await window.page.locator('.quick-input-widget .monaco-list-row', { hasText: 'Session trace' }).click();
  const { frame } = await traceIn(window);
  await frame.locator('.lane').nth(4).waitFor();
  const { x, y, width, height } = (await frame.locator('.lane .plot').first().boundingBox())!;
  const { mouse } = window.page;
  const middle = y + height / 2;
  await mouse.move(x + width * 0.6, middle);
  await mouse.wheel(0, -900);
  await mouse.down();
  await mouse.move(x + width * 0.4, middle, { steps: 5 });
  await mouse.up();
  await mouse.click(x + width * 0.5, middle);
  await frame.locator('.where strong').waitFor();
  // Zoomed and moved: the strip says where.
  const shown = await frame.locator('.strip').getAttribute('aria-valuetext');
  if (!shown || shown.startsWith('0:00')) throw new Error(`the view still shows ${shown}`);
});

scene('a trace comes back as it was left', { files }, async (window) => {
  const { frame, plots } = await openTrace(window);
  await plots.focus();
  for (const key of ['n', 'n']) await window.page.keyboard.press(key);
  // The second finding is reached: until then the place is on its way.
  await frame.locator('.where', { hasText: `Row ${leanLines.first + 1}` }).waitFor();
  const separate = await frame.locator('.lane').count();
  for (const key of ['ArrowDown', 'j']) await window.page.keyboard.press(key);
  await frame
    .locator('.lane')
    .nth(separate - 1)
    .waitFor({ state: 'detached' });
  const words = (await frame.locator('.where strong').textContent())!;
  const lanes = separate - 1;
  // Hidden behind another file of its group, the view is gone; shown again it is made anew.
  await window.open('bench-car/vehicle.json');
  await window.page.locator('.tabs-container .tab', { hasText: 'Trace: ' }).click();
  const again = await traceIn(window);
  await again.frame.locator('.where strong', { hasText: words }).waitFor();
  if ((await again.frame.locator('.lane').count()) !== lanes) throw new Error('the lanes are others');
});

scene(
  'a reload brings the trace back, with the runs of a second session',
  { files: ['samples/bramble-coupe/sessions/dyno.session.csv'], settings: restoring },
  async (window) => {
    const { frame } = await openTrace(window);
    await frame.getByRole('button', { name: 'Add a session' }).click();
    await window.page.locator('.quick-input-widget .monaco-list-row', { hasText: 'hill.session.csv' }).click();
    await frame.locator('.run-legend', { hasText: 'hill.session.csv' }).waitFor();
    await frame.locator('.head', { hasText: 'lambda, difference from' }).waitFor();
    const lanes = await frame.locator('.lane').count();
    const names = await frame.locator('.run-legend').textContent();
    await window.reload();
    const again = await traceIn(window);
    await again.frame.locator('.run-legend', { hasText: 'hill.session.csv' }).waitFor();
    await again.frame
      .locator('.lane')
      .nth(lanes - 1)
      .waitFor();
    if ((await again.frame.locator('.run-legend').textContent()) !== names) throw new Error('other runs are laid over each other');
    await again.frame.locator('.head', { hasText: 'lambda, difference from' }).waitFor();
  },
);

scene('what the trace shows is saved as a drawing and as a picture', { files, writes: true }, async (window) => {
  const { frame, plots } = await openTrace(window);
  await plots.focus();
  for (const key of ['n', 'n']) await window.page.keyboard.press(key);
  await frame.locator('.where strong').waitFor();
  for (const kind of ['svg', 'png']) {
    await frame.getByRole('button', { name: `Save as ${kind.toUpperCase()}` }).click();
    const input = window.page.locator('.quick-input-widget input[type="text"]');
    await input.waitFor();
    // The place offered is beside the recording, under its name.
    const path = join(window.folder, `bench-car/sessions/drive.${kind}`);
    await window.page.waitForFunction(
      (offered) => document.querySelector<HTMLInputElement>('.quick-input-widget input[type="text"]')?.value === offered,
      path,
    );
    await input.press('Enter');
    await frame.locator('.told', { hasText: `drive.${kind} written` }).waitFor();
    const bytes = readFileSync(path);
    // The PNG specification's signature; XML as a browser reads it.
    if (kind === 'png' && bytes.subarray(1, 4).toString() !== 'PNG') throw new Error('no PNG');
    if (kind === 'svg') {
      const found = await frame.evaluate((text) => {
        const drawing = new DOMParser().parseFromString(text, 'image/svg+xml');
        return {
          failed: drawing.querySelector('parsererror')?.textContent ?? '',
          paths: drawing.querySelectorAll('path[d*="L"]').length,
          words: drawing.documentElement.textContent ?? '',
        };
      }, bytes.toString());
      if (found.failed !== '' || found.paths < 4 || !found.words.includes('drive.session.csv'))
        throw new Error(`the drawing is not whole: ${JSON.stringify(found)}`);
    }
  }
});

/** More than the editor hands to extensions as text. */
const LARGE_BYTES = 51 << 20;
const large = 'bench-car/sessions/long.session.csv';

scene(
  'a session too large for the text editor, read from disk',
  { files, writes: true, settings: { 'workbench.editorAssociations': { '*long.session.csv': 'leanspot.trace' } } },
  async (window) => {
    await window.foundSomething();
    const [note, header, ...rows] = readFileSync(join(window.folder, files[0]!), 'utf8').trim().split('\n');
    // The same minute again and again, an hour's worth and more, each row with a long remark.
    const remark = 'the same stretch of road, once more, in the same gear and weather, with nothing else to be said of it; '.repeat(6);
    const lines = [note!, `${header!},Remark`];
    for (let bytes = 0, minute = 0; bytes < LARGE_BYTES; minute++) {
      for (const row of rows) {
        const comma = row.indexOf(',');
        const line = `${(Number(row.slice(0, comma)) + 60 * minute).toFixed(2)}${row.slice(comma)},"${remark}"`;
        lines.push(line);
        bytes += line.length + 1;
      }
    }
    writeFileSync(join(window.folder, large), `${lines.join('\n')}\n`);
    if (statSync(join(window.folder, large)).size < 50 << 20) throw new Error('the file is not large');
    await window.command('View: Toggle Primary Side Bar Visibility');
    await window.open(large);
    const { frame } = await traceIn(window);
    await frame.locator(leanFinding, { hasText: 'lean-under-load' }).first().waitFor();
    await frame.locator('.told', { hasText: 'larger than 50 MB' }).waitFor();
  },
);
