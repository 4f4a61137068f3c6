// What a person sees who opens a fuel table.
import { misspeltCell } from '../benchCar.js';
import { scene } from '../scene.js';
import { viewIn } from '../views.js';

const files = ['bench-car/tables/fuel.table.csv'];

scene('a misspelt table cell is underlined and says why', { files }, async (window) => {
  await window.squiggles('error').first().waitFor();
  await window.hoverOver(misspeltCell, 'value-not-a-number');
});

scene('a folder that is not trusted is read all the same', { files, trusted: false }, async (window) => {
  await window.page.locator('.statusbar-item', { hasText: 'Restricted Mode' }).waitFor();
  await window.squiggles('error').first().waitFor();
  await window.hoverOver(misspeltCell, 'value-not-a-number');
  await window.page.locator('.codelens-decoration', { hasText: /1 session, \d+ samples/ }).waitFor();
});

scene(
  'a folder that is not trusted is never changed',
  { files: ['samples/bramble-coupe/tables/ve.table.csv'], trusted: false, settings: { 'editor.minimap.enabled': false } },
  async (window) => {
    const { page } = window;
    await window.settled();
    await page.locator('.codelens-decoration', { hasText: /cells proven/ }).waitFor();
    if ((await page.locator('.codelens-decoration a', { hasText: /Correct/ }).count()) > 0)
      throw new Error('a correction is offered above the table');
    // What is only looked at is there; the button that would change the table says why it does not.
    await window.command('View: Toggle Primary Side Bar Visibility');
    await window.command('Leanspot: Open Picture of This Table');
    const frame = await viewIn(page, 'body[data-view="table"]');
    await frame.getByRole('button', { name: 'Correct all proven cells' }).click();
    await window.notifications.filter({ hasText: 'Files are changed only in a trusted folder.' }).waitFor();
    for (const [words, title] of [
      ['>Leanspot: Correct', 'Correct'],
      ['>Leanspot: Save the Report', 'Save the Report'],
    ] as const) {
      await page.keyboard.press('F1');
      await page.locator('.quick-input-widget input[type="text"]').fill(words);
      await page.locator('.quick-input-widget .monaco-list-row').first().waitFor();
      if ((await page.locator('.quick-input-widget .monaco-list-row', { hasText: `Leanspot: ${title}` }).count()) > 0)
        throw new Error(`${title} is offered`);
      await page.keyboard.press('Escape');
    }
  },
);
