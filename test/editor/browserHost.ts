// The suite inside the browser-hosted editor: a headless page starts the extension host, which runs mocha and reports through the page.
import { createWriteStream, mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { format } from 'node:util';
import type { Browser } from 'playwright-core';
import { pageAddress } from './address.js';
import { startCodeServer } from './codeServer.js';
import { mark } from './mark.js';
import { screenshotFolder } from './places.js';
import { writeUserSettings } from './settings.js';
import { bundleSuite, readTally } from './suiteBundle.js';
import type { Tally } from './tally.js';
import { removeFolder } from './workspaceCopy.js';

const suiteLimitMs = 600_000;

/** Runs the suite over a copy of the sample in `folder`. Throws `Unavailable` where the editor does not start. */
export async function runSuiteInBrowser(browser: Browser, folder: string): Promise<Tally> {
  const tests = await bundleSuite();
  const dataFolder = mkdtempSync(join(tmpdir(), 'leanspot-editor-'));
  const tallyFile = join(dataFolder, 'tally.json');
  writeUserSettings(dataFolder);
  const server = await startCodeServer({ dataFolder, env: { LEANSPOT_TALLY: tallyFile, FORCE_COLOR: process.stdout.isTTY ? '1' : '0' } });
  try {
    const editorLog = createWriteStream(join(screenshotFolder, 'editor.log'));
    const page = await browser.newPage();
    const ended = new Promise<number>((resolve) => {
      const giveUp = (why: string) => {
        console.error(`The suite did not come to its end: ${why}.`);
        resolve(1);
      };
      const limit = setTimeout(() => giveUp(`${suiteLimitMs / 1000} s are over`), suiteLimitMs).unref();
      page.once('crash', () => giveUp('the page crashed'));
      void page.exposeFunction('codeAutomationExit', (code: number) => {
        clearTimeout(limit);
        resolve(code);
      });
    });
    await page.exposeFunction('codeAutomationLog', (type: string, args: unknown[]) => {
      const words = format(...args);
      if (words.startsWith(mark)) console.log(words.slice(mark.length));
      else editorLog.write(`${type} ${words}\n`);
    });
    await page.goto(pageAddress(server.authority, { folder, tests }));
    const code = await ended;
    await page.close();
    editorLog.end();
    const tally = readTally(tallyFile);
    return code !== 0 && tally.failed === 0 ? { ...tally, failed: 1 } : tally;
  } finally {
    await server.stop();
    removeFolder(dataFolder);
  }
}
