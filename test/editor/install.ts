// Installs packages into the cache so that a run cut short leaves nothing half-installed behind.
import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, readdirSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { basename, dirname, join } from 'node:path';

/** A registry that answers slowly is waited for, one that hangs is not. */
const longestRunMs = 300_000;

/** Thrown where an editor or a browser can't be had here; another host may still do. */
export class Unavailable extends Error {}

/**
 * Makes `folder` with `fill` unless it is there. It is filled under another name and renamed at the end, so a
 * folder of that name is always whole, also when two runs install at once.
 */
export function installOnce(folder: string, fill: (folder: string) => void): void {
  if (existsSync(folder)) return;
  const parent = dirname(folder);
  mkdirSync(parent, { recursive: true });
  removeAbandoned(parent, basename(folder));
  const unfinished = `${folder}.unfinished-${process.pid}`;
  mkdirSync(unfinished);
  writeFileSync(join(unfinished, 'package.json'), '{ "private": true }\n');
  console.log(`Installing ${basename(folder)} into ${parent} (once) …`);
  try {
    fill(unfinished);
    if (!existsSync(folder)) renameSync(unfinished, folder);
  } finally {
    rmSync(unfinished, { recursive: true, force: true });
  }
}

function removeAbandoned(parent: string, name: string): void {
  for (const entry of readdirSync(parent)) {
    const owner = entry.startsWith(`${name}.unfinished-`) ? Number(entry.slice(entry.lastIndexOf('-') + 1)) : undefined;
    if (owner !== undefined && !isRunning(owner)) rmSync(join(parent, entry), { recursive: true, force: true });
  }
}

function isRunning(processId: number): boolean {
  try {
    return process.kill(processId, 0);
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM';
  }
}

/** `npm install …` without install scripts. Throws `Unavailable` with npm's own words. */
export function npmInstall(folder: string, ...args: string[]): void {
  const npm = process.env.npm_execpath ? [process.execPath, process.env.npm_execpath] : ['npm'];
  run([...npm, 'install', ...args, '--ignore-scripts', '--no-audit', '--no-fund', '--loglevel=error'], folder);
}

/** Runs a program to its end, quietly. Throws `Unavailable` with the end of what it said. */
export function run([program, ...args]: string[], cwd: string, env: NodeJS.ProcessEnv = {}): void {
  const result = spawnSync(program!, args, {
    cwd,
    encoding: 'utf8',
    timeout: longestRunMs,
    shell: process.platform === 'win32',
    env: { ...process.env, ...env },
  });
  if (result.status === 0) return;
  const words = result.error?.message ?? (result.stderr || result.stdout).trim().slice(-2000);
  throw new Unavailable(`${basename(program!)} ${args.slice(0, 3).join(' ')} failed: ${words}`);
}
