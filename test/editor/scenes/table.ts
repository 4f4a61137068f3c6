// What a person sees who opens a fuel table.
import { misspeltCell } from '../benchCar.js';
import { scene } from '../scene.js';

const files = ['bench-car/tables/fuel.table.csv'];

scene('a misspelt table cell is underlined and says why', { files }, async (window) => {
  await window.squiggles('error').first().waitFor();
  await window.hoverOver(misspeltCell, 'value-not-a-number');
});

scene('a folder that is not trusted is read all the same', { files, trusted: false }, async (window) => {
  await window.page.locator('.statusbar-item', { hasText: 'Restricted Mode' }).waitFor();
  await window.squiggles('error').first().waitFor();
});
