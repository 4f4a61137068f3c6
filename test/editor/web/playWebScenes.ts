// Plays the scenes of the browser-hosted editor that has no server: nothing but a page.
import type { Browser } from 'playwright-core';
import { EditorWindow } from '../editorWindow.js';
import type { Scene } from '../scene.js';
import { playAll, type Tally } from '../tally.js';
import { copyWorkspace, leavingFiles, removeFolder } from '../workspaceCopy.js';
import { startWebEditor } from './webEditor.js';

const waitLimitMs = 30_000;

export const playWebScenes = (browser: Browser, scenes: readonly Scene[]): Promise<Tally> =>
  playAll(scenes, (scene) => playScene(browser, scene));

async function playScene(browser: Browser, scene: Scene): Promise<Error | undefined> {
  const folder = copyWorkspace([...new Set(scene.files.map((path) => path.split('/')[0]!))]);
  const server = await startWebEditor(folder, scene.files);
  const context = await browser.newContext({ viewport: { width: 1280, height: 800 }, reducedMotion: 'reduce' });
  const page = await context.newPage();
  page.setDefaultTimeout(waitLimitMs);
  if (process.env.LEANSPOT_VERBOSE) {
    page.on('console', (message) => console.log(`    ${message.text()}`));
    page.on('pageerror', (error) => console.log(`    ${error.message}`));
    page.on('response', (response) => {
      if (!response.ok()) console.log(`    ${response.status()} ${response.url()}`);
    });
  }
  const window = new EditorWindow(page, folder);
  const pictureName = scene.name.replace(/\W+/g, '-');
  try {
    await page.goto(server.address);
    await window.ready(scene.files.at(-1));
    await (scene.writes ? scene.play(window) : leavingFiles(folder, () => scene.play(window)));
    await window.shot(pictureName);
    return undefined;
  } catch (error) {
    await window.shot(`${pictureName}-FAILED`).catch(() => {
      /* the first error tells more */
    });
    return error as Error;
  } finally {
    await context.close();
    await server.stop();
    removeFolder(folder);
  }
}
