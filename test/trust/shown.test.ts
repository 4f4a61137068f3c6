// What is shown as a page holds a file's words as text: the report has the same markup whatever its files say, and the views have one way
// in for words.

import assert from 'node:assert/strict';
import { mkdirSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { diskWorkspace, uriOf } from '../../server/src/disk/diskWorkspace.js';
import { gather } from '../../server/src/report/gather.js';
import { reportPage } from '../../server/src/report/page.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { inFolder } from '../support/folder.js';
import { HOSTILE, HOSTILE_PAGE, STEERING } from './hostile.js';
import { carSaying } from './hostileCar.js';

const reportSaying = (piece: string): Promise<string> =>
  inFolder('', async (cwd) => {
    for (const [path, text] of Object.entries(carSaying(piece))) {
      mkdirSync(dirname(join(cwd, path)), { recursive: true });
      writeFileSync(join(cwd, path), text);
    }
    const workspace = diskWorkspace([uriOf(cwd)]);
    const service = createLanguageService(workspace);
    const folder = await service.vehicleFolder(uriOf(join(cwd, 'vehicle.json')));
    return reportPage(await gather(workspace, service, folder!, { date: '2026-09-16', version: '9.9.9' }));
  });

/** Every tag of a page with the names of its attributes, in order. */
const markupOf = (page: string): string[] => [...page.matchAll(/<(?:"[^"]*"|[^">])*>/g)].map(([tag]) => tag.replace(/"[^"]*"/g, '""'));

/** The piece without what HTML has a meaning for. */
const plain = (piece: string): string => piece.replace(/[<>&"']/g, 'x');

suite('trust: pages', () => {
  test('the report: the same markup whatever names, units, notes, cells and paths say, and no address but its own places', async () => {
    for (const piece of [...HOSTILE, HOSTILE_PAGE, "' onload=alert(1) x='", `x${STEERING}`.replaceAll('\b', '')]) {
      const page = await reportSaying(piece);
      const markup = markupOf(page);
      assert.ok(markup.length > 500, `${markup.length} tags`);
      if (plain(piece) !== piece) assert.deepEqual(markup, markupOf(await reportSaying(plain(piece))), piece);
      assert.equal(page.match(/<\/style>/g)!.length, 1);
      for (const tag of ['script', 'img', 'iframe', 'object', 'link', 'foreignobject', 'image', 'use'])
        assert.ok(!markup.some((each) => new RegExp(`^<${tag}\\b`, 'i').test(each)), `<${tag}>`);
      for (const [tag] of page.matchAll(/<[a-z][^>]*>/gi)) assert.doesNotMatch(tag, /(?:src|href|data|action)="(?!#)|url\((?!#)/i, tag);
      // What steers a terminal or turns writing has no place in a page either.
      // eslint-disable-next-line no-control-regex
      assert.doesNotMatch(page, /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069]/);
    }
  }).timeout(120_000);
});
