// The sample car as a newcomer meets it.
import { scene } from '../scene.js';

const car = 'samples/bramble-coupe';

scene('the fuel table of the sample', { files: [`${car}/tables/ve.table.csv`] }, async (window) => {
  await window.settled();
});

scene(
  'from the problems panel to the lean spot of the sample',
  { files: [`${car}/tables/ve.table.csv`, `${car}/sessions/dyno.session.csv`], pictures: true },
  async (window) => {
    await window.settled();
    const problems = await window.problems('lean-under-load');
    await window.page.getByText(/^Showing \d+ of \d+$/).waitFor();
    await problems.first().dblclick();
    await window.squiggles('error').first().waitFor();
    // Off the list, whose rows say their words again under the mouse.
    await window.page.mouse.move(640, 5);
    await window.page.locator('.monaco-hover:visible').waitFor({ state: 'detached' });
    await window.keep('problems-lean-spot');
  },
);
