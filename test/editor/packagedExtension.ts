// The extension as a user gets it: packed into a file, which an editor that has seen nothing of it before installs.
import { existsSync, readFileSync, readdirSync, statSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { run } from './install.js';
import { root } from './places.js';

/** `vsce` counts so too. */
const MOST_BYTES = 600 << 10;

/** Packs it; the bundles for development are back when it is done. Throws where the package has grown too large. */
export function packExtension(): string {
  const file = join(root, '.build/leanspot.vsix');
  run([process.execPath, 'build.mjs', 'package', '--out', file], root);
  const { size } = statSync(file);
  console.log(`  the package: ${(size / 1024).toFixed(1)} KB`);
  if (size > MOST_BYTES) throw new Error(`the package has ${size} bytes, more than ${MOST_BYTES}`);
  const dead = deadLinks(join(root, '.build/package'));
  if (dead.length > 0) throw new Error(`pages in the package point at what is not in it: ${dead.join(', ')}`);
  return file;
}

function deadLinks(folder: string): string[] {
  const pages = readdirSync(folder, { recursive: true, encoding: 'utf8' }).filter((file) => file.endsWith('.md'));
  return pages.flatMap((page) =>
    [...readFileSync(join(folder, page), 'utf8').matchAll(/\]\((?!https?:|#)([^)#\s]+)/g)]
      .filter(([, to]) => !existsSync(join(folder, dirname(page), to)))
      .map(([, to]) => `${page}: ${to}`),
  );
}
