// How long does the extension keep the editor's extension host when it wakes? By the host's own clock, as *Developer: Show Running
// Extensions* shows it:
// the code loaded and `activate` called (and whatever of the editor's own extensions it loads in the same breath). A window of its own each
// time, over the sample car.
// Beside it stands an extension that does nothing, woken by the same: what that takes is the host's and the machine's. Needs `npm run
// build` first.

import { mkdirSync, mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import type { Browser } from 'playwright-core';
import { pageAddress } from '../editor/address.js';
import { launchBrowser } from '../editor/browser.js';
import { installCodeServer, startCodeServer, type CodeServer } from '../editor/codeServer.js';
import { EditorWindow } from '../editor/editorWindow.js';
import { writeUserSettings } from '../editor/settings.js';
import { copyWorkspace, removeFolder } from '../editor/workspaceCopy.js';

const RUNS = Number(process.env.LEANSPOT_RUNS ?? 7);
const BAR_MS = 60;
/** A slow machine's editor takes its time. */
const WAIT_MS = 120_000;

export interface BenchResult {
  readonly pass: boolean;
  readonly text: string;
}

/** Among the editor's installed extensions: the least that can be woken. */
const makeEmptyExtension = (dataFolder: string): void => {
  const {
    activationEvents,
    engines,
    contributes: { languages },
  } = JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8')) as {
    activationEvents: string[];
    engines: object;
    contributes: { languages: { id: string }[] };
  };
  const folder = join(dataFolder, 'extensions/bench.nothing-1.0.0');
  mkdirSync(folder, { recursive: true });
  writeFileSync(
    join(folder, 'package.json'),
    JSON.stringify({
      name: 'nothing',
      displayName: EMPTY,
      publisher: 'bench',
      version: '1.0.0',
      engines,
      activationEvents: [...activationEvents, ...languages.map(({ id }) => `onLanguage:${id}`)],
      main: './nothing.js',
    }),
  );
  writeFileSync(join(folder, 'nothing.js'), 'exports.activate = () => undefined;\n');
  writeFileSync(
    join(dataFolder, 'extensions/extensions.json'),
    JSON.stringify([
      {
        identifier: { id: 'bench.nothing' },
        version: '1.0.0',
        location: { $mid: 1, path: folder, scheme: 'file' },
        relativeLocation: 'bench.nothing-1.0.0',
      },
    ]),
  );
};
const EMPTY = 'Does Nothing';

interface Told {
  readonly ownMs: number;
  readonly emptyMs: number;
}

/** What the host says of one window. */
const activationMs = async (browser: Browser, server: CodeServer): Promise<Told> => {
  const folder = copyWorkspace(['samples']);
  const context = await browser.newContext();
  const page = await context.newPage();
  page.setDefaultTimeout(WAIT_MS);
  try {
    const window = new EditorWindow(page, folder);
    const file = 'samples/bramble-coupe/tables/ve.table.csv';
    await page.goto(pageAddress(server.authority, { folder, files: [join(folder, file)] }));
    await window.ready(file);
    await window.settled();
    await window.command('Developer: Show Running Extensions');
    const msOf = async (name: string): Promise<number> => {
      const told = await page.locator('.runtime-extensions-editor .extension', { hasText: name }).locator('.activation-time').innerText();
      const ms = Number(/(\d+)\s*ms/.exec(told)?.[1]);
      if (!Number.isFinite(ms)) throw new Error(`no time in ${JSON.stringify(told)}`);
      return ms;
    };
    return { ownMs: await msOf('Leanspot'), emptyMs: await msOf(EMPTY) };
  } finally {
    await page.goto('about:blank').catch(() => {
      /* a crashed page has no host to end */
    });
    await context.close();
    removeFolder(folder);
  }
};

/** Opens the window some times (`LEANSPOT_RUNS`, else 7), and once before to fill the machine's caches. */
export const bench = async (): Promise<BenchResult> => {
  installCodeServer();
  const browser = await launchBrowser();
  const dataFolder = mkdtempSync(join(tmpdir(), 'leanspot-activation-'));
  writeUserSettings(dataFolder);
  makeEmptyExtension(dataFolder);
  try {
    const server = await startCodeServer({ dataFolder, trustEverything: true });
    try {
      const first = await activationMs(browser, server),
        told: Told[] = [];
      for (let run = 0; run < RUNS; run++) told.push(await activationMs(browser, server));
      const [times, empty] = [told.map(({ ownMs }) => ownMs), told.map(({ emptyMs }) => emptyMs)];
      const medianOf = (all: readonly number[]): number => [...all].sort((a, b) => a - b)[all.length >> 1]!;
      const median = medianOf(times);
      return {
        pass: median <= BAR_MS,
        text: `${median <= BAR_MS ? 'held ' : 'MISSED'} activation by the host's clock, median of ${RUNS} windows: ${median} ms (at most ${BAR_MS}); each ${times.join(', ')}; the first of all ${first.ownMs}; an extension that does nothing, in the same windows: ${medianOf(empty)} ms; each ${empty.join(', ')}`,
      };
    } finally {
      await server.stop();
    }
  } finally {
    await browser.close();
    removeFolder(dataFolder);
  }
};

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const { pass, text } = await bench();
  console.log(text);
  process.exitCode = pass ? 0 : 1;
}
