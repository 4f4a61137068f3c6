// `npm run test:editor`: runs the suite and the scenes in a real editor. LEANSPOT_EDITOR=browser or =desktop asks for one host
// (else the browser-hosted one is tried first); LEANSPOT_GREP picks tests and scenes by a pattern in their names.
import { spawnSync } from 'node:child_process';
import { mkdirSync, readdirSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { launchBrowser } from './browser.js';
import { runSuiteInBrowser } from './browserHost.js';
import { installCodeServer } from './codeServer.js';
import { runSuiteOnDesktop } from './desktopHost.js';
import { Unavailable } from './install.js';
import { root, screenshotFolder, takesPictures } from './places.js';
import { playScenes } from './playScenes.js';
import { allScenes, type Scene } from './scene.js';
import { add, describe, nothing, type Tally } from './tally.js';
import { playWebScenes } from './web/playWebScenes.js';
import { installWebEditor } from './web/webEditor.js';
import { copyWorkspace, removeFolder } from './workspaceCopy.js';

type Host = (scenes: readonly Scene[]) => Promise<Tally>;

const hosts: Record<string, Host> = { browser: inBrowser, desktop: onDesktop };

/** code-server in headless Chromium: the suite inside, then the scenes from outside. */
async function inBrowser(scenes: readonly Scene[]): Promise<Tally> {
  installCodeServer();
  const browser = await launchBrowser();
  try {
    const inside = takesPictures ? nothing : await overCopy((folder) => runSuiteInBrowser(browser, folder));
    console.log('  scenes');
    const played = add(
      inside,
      await playScenes(
        browser,
        scenes.filter(({ web }) => !web),
      ),
    );
    const onPage = scenes.filter(({ web }) => web);
    if (onPage.length === 0) return played;
    installWebEditor();
    return add(played, await playWebScenes(browser, onPage));
  } finally {
    await browser.close();
  }
}

/** Desktop VS Code: the suite inside. The scenes need a page to drive. */
async function onDesktop(scenes: readonly Scene[]): Promise<Tally> {
  const inside = await overCopy(runSuiteOnDesktop);
  for (const { name } of scenes) console.log(`  - ${name}: skipped, scenes are played in the browser-hosted editor`);
  return add(inside, { ...nothing, skipped: scenes.length });
}

async function overCopy(run: (folder: string) => Promise<Tally>): Promise<Tally> {
  const folder = copyWorkspace();
  try {
    return await run(folder);
  } finally {
    removeFolder(folder);
  }
}

async function loadScenes(): Promise<Scene[]> {
  const folder = join(import.meta.dirname, 'scenes');
  for (const name of readdirSync(folder)
    .filter((file) => file.endsWith('.ts'))
    .sort())
    await import(`./scenes/${name}`);
  const wanted = new RegExp(process.env.LEANSPOT_GREP ?? '');
  return allScenes().filter(({ name, pictures }) => wanted.test(name) && (pictures || !takesPictures));
}

/** Null where no host could start an editor. */
async function runInFirstAvailable(): Promise<Tally | null> {
  const scenes = await loadScenes();
  const asked = process.env.LEANSPOT_EDITOR;
  if (asked && !(asked in hosts)) {
    console.error(`LEANSPOT_EDITOR is ${asked}; it can be ${Object.keys(hosts).join(' or ')}.`);
    return null;
  }
  for (const name of asked ? [asked] : Object.keys(hosts)) {
    try {
      return await hosts[name]!(scenes);
    } catch (error) {
      if (!(error instanceof Unavailable)) throw error;
      console.error(`No ${name} editor: ${error.message}`);
    }
  }
  return null;
}

const build = spawnSync(process.execPath, ['build.mjs'], { cwd: root, stdio: 'inherit' });
if (build.status !== 0) process.exit(1);
// What lies there afterwards is of this run.
rmSync(screenshotFolder, { recursive: true, force: true });
mkdirSync(screenshotFolder, { recursive: true });
const started = performance.now();
const tally = await runInFirstAvailable();
console.log(`Editor tests took ${((performance.now() - started) / 1000).toFixed(0)} s`);
if (!tally) console.log('No editor could be started, so nothing was tested.');
console.log(describe(tally ?? { ...nothing, failed: 1 }));
process.exitCode = tally && tally.failed === 0 && tally.passed > 0 ? 0 : 1;
