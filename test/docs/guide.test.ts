// The guide prints what the product prints, the reference pages are what it has, and no link leads nowhere. `npm run docs` writes them
// anew.

import assert from 'node:assert/strict';
import { existsSync, readdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { leanspot } from '../cli/run.js';
import { readPage, refreshed, ROOT } from '../support/docExamples.js';
import { WITH_EXAMPLES } from '../support/makeDocs.js';
import { referencePages } from '../support/makeReference.js';

const DOCS = join(ROOT, 'server/docs');

suite('docs', () => {
  for (const name of WITH_EXAMPLES) {
    test(`${name}: every example prints what it says`, async () => {
      const page = readPage(name);
      assert.equal(page, await refreshed(page), `${name} is stale: run npm run docs`);
      assert.ok(page.includes('```console'), 'an example');
    });
  }

  test('what the README quotes of the sample car is said of it', async () => {
    const [, quoted] = /says among other things:\n\n```text\n([^]*?)```/.exec(readPage('../../README.md'))!;
    const { stdout } = await leanspot(['check', 'samples', '--fail-on', 'never'], { env: { NO_COLOR: '1' } });
    assert.deepEqual(
      quoted
        .trim()
        .split('\n')
        .filter((line) => !stdout.includes(line.trim())),
      [],
    );
  });

  test('commands and settings are those of the product', async () => {
    for (const [name, text] of await referencePages()) assert.equal(readPage(name), text, `${name} is stale: run npm run docs`);
  });

  test('every link and picture leads to a file that is there', () => {
    const pages = [
      'README.md',
      'DEVELOPERS.md',
      ...readdirSync(DOCS, { recursive: true, encoding: 'utf8' })
        .filter((name) => name.endsWith('.md'))
        .map((name) => join('server/docs', name)),
    ];
    const links = pages.flatMap((page) =>
      [...readPage(join('../..', page)).matchAll(/\]\(([^)#\s]+)(?:#[^)]*)?\)/g)].map(([, target]) => ({ page, target })),
    );
    assert.ok(links.length > 50);
    assert.deepEqual(
      links.filter(({ page, target }) => !/^[a-z]+:/.test(target) && !existsSync(join(ROOT, dirname(page), target))),
      [],
    );
  });
});
