// Plays every scene in each of its themes and keeps the pictures.
import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { pageAddress } from './address.js';
import { type CodeServer, installExtension, startCodeServer } from './codeServer.js';
import { EditorWindow } from './editorWindow.js';
import { packExtension } from './packagedExtension.js';
import { type Scene, themes } from './scene.js';
import { writeUserSettings } from './settings.js';
import { add, nothing, playAll, type Tally } from './tally.js';
import { copyWorkspace, leavingFiles, removeFolder } from './workspaceCopy.js';

const waitLimitMs = 60_000;
const view = { width: 1280, height: 800 };

/** Plays the scenes one after the other. Throws `Unavailable` where the editor does not start. */
export async function playScenes(browser: Browser, scenes: readonly Scene[]): Promise<Tally> {
  let tally = nothing;
  // What is packed takes the place of the bundles under development for a while: the last to be played.
  for (const { trusted, installed } of [
    { trusted: true, installed: false },
    { trusted: false, installed: false },
    { trusted: true, installed: true },
  ]) {
    const cast = scenes.filter((scene) => scene.trusted === trusted && scene.installed === installed);
    if (cast.length === 0) continue;
    const dataFolder = mkdtempSync(join(tmpdir(), 'leanspot-editor-'));
    if (installed) installExtension(dataFolder, packExtension());
    const server = await startCodeServer({ dataFolder, trustEverything: trusted });
    try {
      tally = add(tally, await playAll(cast, (scene) => playScene(browser, server, dataFolder, scene)));
    } finally {
      await server.stop();
      removeFolder(dataFolder);
    }
  }
  return tally;
}

async function playScene(browser: Browser, server: CodeServer, dataFolder: string, scene: Scene): Promise<Error | undefined> {
  // Only the cars that the scene opens: each other one is more to wait for.
  const folder = copyWorkspace([...new Set(scene.files.map((path) => path.split('/')[0]!))]);
  writeUserSettings(dataFolder, { 'workbench.colorTheme': themes.dark, ...scene.settings });
  const context = await browser.newContext({ viewport: view, reducedMotion: 'reduce' });
  const page = await context.newPage();
  page.setDefaultTimeout(waitLimitMs);
  const window = new EditorWindow(page, folder);
  const pictureName = scene.name.replace(/\W+/g, '-');
  try {
    await page.goto(
      pageAddress(server.authority, { folder, files: scene.files.map((file) => join(folder, file)), installed: scene.installed }),
    );
    await window.ready(scene.files.at(-1));
    const play = async (): Promise<void> => {
      await scene.play(window);
      await window.shotInAllThemes(pictureName);
    };
    await (scene.writes ? play() : leavingFiles(folder, play));
    return undefined;
  } catch (error) {
    await window.shot(`${pictureName}-FAILED`).catch(() => {
      /* the first error tells more */
    });
    return error as Error;
  } finally {
    // Left behind, the page tells the server to end its extension host; closed, it would be waited for.
    await page.goto('about:blank').catch(() => {
      /* a crashed page has no host to end */
    });
    await context.close();
    removeFolder(folder);
  }
}
