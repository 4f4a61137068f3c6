// The suite inside a desktop VS Code, installed or downloaded: the other host, for a machine that has one and a screen.
import { existsSync, mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { downloadAndUnzipVSCode, runTests, SilentReporter } from '@vscode/test-electron';
import { Unavailable } from './install.js';
import { cacheFolder, root } from './places.js';
import { bundleSuite, readTally } from './suiteBundle.js';
import type { Tally } from './tally.js';
import { removeFolder } from './workspaceCopy.js';

const installed = [
  '/usr/share/code/code',
  '/Applications/Visual Studio Code.app/Contents/MacOS/Electron',
  join(process.env.LOCALAPPDATA ?? '/', 'Programs/Microsoft VS Code/Code.exe'),
];
/** A download that brings nothing for so long is given up. */
const silenceLimitMs = 15_000;

/** Runs the suite over a copy of the sample in `folder`. Throws `Unavailable` where the editor can't be had or shown. */
export async function runSuiteOnDesktop(folder: string): Promise<Tally> {
  if (process.platform === 'linux' && !process.env.DISPLAY && !process.env.WAYLAND_DISPLAY)
    throw new Unavailable('no screen: run it under xvfb-run');
  const vscodeExecutablePath = installed.find(existsSync) ?? (await download());
  const extensionTestsPath = await bundleSuite();
  const dataFolder = mkdtempSync(join(tmpdir(), 'leanspot-desktop-'));
  const tallyFile = join(dataFolder, 'tally.json');
  try {
    const code = await runTests({
      vscodeExecutablePath,
      extensionTestsPath,
      extensionDevelopmentPath: root,
      launchArgs: [
        folder,
        '--disable-extensions',
        '--disable-workspace-trust',
        '--skip-welcome',
        '--user-data-dir',
        join(dataFolder, 'user'),
        ...(process.getuid?.() === 0 ? ['--no-sandbox'] : []),
      ],
      extensionTestsEnv: { LEANSPOT_TALLY: tallyFile },
    }).catch(() => 1);
    const tally = readTally(tallyFile);
    return code !== 0 && tally.failed === 0 ? { ...tally, failed: 1 } : tally;
  } finally {
    removeFolder(dataFolder);
  }
}

async function download(): Promise<string> {
  try {
    return await downloadAndUnzipVSCode({
      version: 'stable',
      cachePath: join(cacheFolder, 'desktop'),
      timeout: silenceLimitMs,
      reporter: new SilentReporter(),
    });
  } catch (error) {
    throw new Unavailable(`VS Code can't be downloaded: ${(error as Error).message}`);
  }
}
