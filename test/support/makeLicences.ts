// `npm run licences`, and each packaging: writes THIRD-PARTY.md, the notices of the libraries whose code is in the bundles.

import { readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';

/** As in build.mjs: what either bundle loads in a browser, and what it loads in a library's place. */
export const STAND_INS = Object.fromEntries([
  ...['vscode-languageclient', 'vscode-languageserver', 'vscode-languageserver-protocol', 'vscode-jsonrpc'].map((name) => [
    `${name}/browser`,
    `./node_modules/${name}/lib/browser/main.js`,
  ]),
  ...['parse', 'satisfies'].map((name) => [`semver/functions/${name}`, './client/editorVersion.cjs']),
]);

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const NOTICES = join(ROOT, 'THIRD-PARTY.md');

/** What may be bundled: permissive licences that want no more than their notice. */
export const ALLOWED: readonly string[] = ['MIT', 'ISC', 'BSD-2-Clause', 'BSD-3-Clause', 'Apache-2.0', '0BSD', 'BlueOak-1.0.0'];

export interface Bundled {
  readonly name: string;
  readonly version: string;
  readonly licence: string;
  readonly text: string;
}

/** The packages that the shipped bundles are made of, by name. */
export async function bundledPackages(): Promise<Bundled[]> {
  const { metafile } = await build({
    entryPoints: ['server/src/lsp/entry.ts', 'client/src/client.ts', 'client/webview/main.ts', 'client/webview/views.css'].map((path) =>
      join(ROOT, path),
    ),
    absWorkingDir: ROOT,
    bundle: true,
    platform: 'node',
    format: 'cjs',
    mainFields: ['module', 'main'],
    alias: STAND_INS,
    external: ['vscode'],
    write: false,
    metafile: true,
    logLevel: 'error',
    outdir: 'x',
  });
  const folders = new Set(
    Object.keys(metafile.inputs).flatMap((path) => /^(?:.*\/)?node_modules\/(?:@[^/]+\/)?[^/]+/.exec(path)?.[0] ?? []),
  );
  return [...folders]
    .map((folder): Bundled => {
      const { name, version, license } = JSON.parse(readFileSync(join(ROOT, folder, 'package.json'), 'utf8')) as {
        name: string;
        version: string;
        license?: string;
      };
      const file = readdirSync(join(ROOT, folder)).find((each) => /^licen[cs]e/i.test(each));
      return {
        name,
        version,
        licence: license ?? 'not said',
        text:
          file === undefined
            ? ''
            : readFileSync(join(ROOT, folder, file), 'utf8')
                .replaceAll('\r\n', '\n')
                .trim(),
      };
    })
    .sort((a, b) => (a.name < b.name ? -1 : a.name > b.name ? 1 : a.version < b.version ? -1 : 1));
}

/** THIRD-PARTY.md as text. */
export const noticesOf = (packages: readonly Bundled[]): string => `# Third-party software

The programs of this package contain code of these libraries. Written by \`npm run licences\`.

| library | version | licence |
| --- | --- | --- |
${packages.map(({ name, version, licence }) => `| ${name} | ${version} | ${licence} |`).join('\n')}

${packages
  .map(
    ({ name, version, text, licence }) =>
      `## ${name} ${version}\n\n${
        text === ''
          ? `Licence: ${licence}, as its manifest says; the package carries no text of it.`
          : text
              .split('\n')
              .map((line) => `    ${line}`.trimEnd())
              .join('\n')
      }\n`,
  )
  .join('\n')}`;

if (process.argv[1] === fileURLToPath(import.meta.url)) writeFileSync(NOTICES, noticesOf(await bundledPackages()));
