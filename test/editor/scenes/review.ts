// The review of a changed table as a person comes to it: from the source control view, against what was committed.
import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { scene } from '../scene.js';

const table = 'bench-car/tables/target.table.csv';
const other = 'bench-car/vehicle.json';
const entry = /Review Changes of This Table/;

scene(
  'a changed table is reviewed against the last commit, and no other file is offered it',
  { files: [other], writes: true, settings: { 'git.enabled': true, 'git.autofetch': false } },
  async (window) => {
    const { page, folder } = window;
    const git = (...args: string[]): unknown =>
      execFileSync('git', ['-c', 'user.name=shop', '-c', 'user.email=shop@localhost', ...args], { cwd: folder, stdio: 'pipe' });
    git('init', '--quiet');
    writeFileSync(join(folder, '.gitignore'), '.vscode\n');
    git('add', '.');
    git('commit', '--quiet', '--message', 'as it was');
    for (const [path, from, to] of [
      [table, '0.92', '0.90'],
      [other, 'Bench car', 'The bench car'],
    ] as const) {
      const text = readFileSync(join(folder, path), 'utf8');
      writeFileSync(join(folder, path), text.replace(from, to));
    }
    await page
      .getByRole('tab', { name: /^Source Control/ })
      .locator('a')
      .first()
      .click();
    // Off the tab, whose words else lie over the list.
    await page.mouse.move(800, 600);
    const changed = (name: string) => page.locator('.scm-view .monaco-list-row .resource', { hasText: name });
    await changed('vehicle.json').click();
    await page.locator('.tabs-container .tab.active', { hasText: 'vehicle.json (Working Tree)' }).waitFor();
    if ((await page.getByRole('button', { name: entry }).count()) > 0) throw new Error('offered for another file');
    await changed('target.table.csv').click();
    await page.locator('.tabs-container .tab.active', { hasText: 'target.table.csv (Working Tree)' }).waitFor();
    await page.getByRole('button', { name: entry }).click();
    const preview = page.locator('iframe.webview:visible').contentFrame().locator('iframe#active-frame').contentFrame();
    await preview.getByText(/1 of \d+ cells changed, by -2\.2 %|1 of \d+ cells changed, by −2\.2 %/).waitFor();
    await preview.getByText('the last commit').first().waitFor();
  },
);
