// The findings' pages are what the rules say; `npm run docs` writes them anew.

import assert from 'node:assert/strict';
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { LIMITS } from '../../server/src/formats/limits.js';
import { DOCS, pages } from '../support/makeDocs.js';

suite('finding pages', () => {
  for (const [name, text] of pages()) {
    test(`${name} is up to date`, () => {
      assert.ok(existsSync(DOCS + name), `${name} is missing: run npm run docs`);
      assert.equal(readFileSync(DOCS + name, 'utf8'), text, `${name} is stale: run npm run docs`);
    });
  }
  test('every limit that a vehicle file can set stands on a page', () => {
    const text = [...pages().values()].join('\n');
    assert.deepEqual(
      Object.keys(LIMITS).filter((id) => !text.includes(`| \`${id}\` |`)),
      [],
    );
  });
  test('no page without a rule', () => {
    assert.deepEqual(
      readdirSync(DOCS).filter((name) => !pages().has(name)),
      [],
    );
  });
});
