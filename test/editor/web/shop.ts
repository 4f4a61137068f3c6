// A web extension for the tests: a file system in memory, as a browser-hosted editor has one instead of a disk; filled over HTTP, and what
// is written goes back so.
import * as vscode from 'vscode';

interface Entry {
  readonly bytes: Uint8Array;
  readonly mtime: number;
}

const files = new Map<string, Entry>();
const changed = new vscode.EventEmitter<vscode.FileChangeEvent[]>();
const missing = (uri: vscode.Uri) => vscode.FileSystemError.FileNotFound(uri);
const isFolder = (path: string) => path === '/' || [...files.keys()].some((name) => name.startsWith(`${path}/`));

let origin = '';
const tell = async (method: 'PUT' | 'DELETE', path: string, body?: Uint8Array): Promise<void> => {
  await fetch(`${origin}/shop${path.split('/').map(encodeURIComponent).join('/')}`, { method, ...(body ? { body: body.slice() } : {}) });
};

const provider: vscode.FileSystemProvider = {
  onDidChangeFile: changed.event,
  watch: () => ({ dispose: () => undefined }),
  stat(uri) {
    const file = files.get(uri.path);
    if (file) return { type: vscode.FileType.File, ctime: 0, mtime: file.mtime, size: file.bytes.length };
    if (isFolder(uri.path)) return { type: vscode.FileType.Directory, ctime: 0, mtime: 0, size: 0 };
    throw missing(uri);
  },
  readDirectory(uri) {
    const start = uri.path === '/' ? '/' : `${uri.path}/`;
    const names = new Map<string, vscode.FileType>();
    for (const path of files.keys()) {
      if (!path.startsWith(start)) continue;
      const [name, ...below] = path.slice(start.length).split('/');
      names.set(name!, below.length > 0 ? vscode.FileType.Directory : vscode.FileType.File);
    }
    return [...names];
  },
  readFile(uri) {
    const file = files.get(uri.path);
    if (!file) throw missing(uri);
    return file.bytes;
  },
  async writeFile(uri, bytes) {
    await tell('PUT', uri.path, bytes);
    files.set(uri.path, { bytes, mtime: Date.now() });
    changed.fire([{ type: vscode.FileChangeType.Changed, uri }]);
  },
  createDirectory: () => undefined,
  async delete(uri) {
    await tell('DELETE', uri.path);
    files.delete(uri.path);
    changed.fire([{ type: vscode.FileChangeType.Deleted, uri }]);
  },
  rename: () => undefined,
};

interface Shop {
  readonly origin: string;
  readonly paths: readonly string[];
}

export async function activate(context: vscode.ExtensionContext): Promise<void> {
  const { extensionUri } = context;
  origin = `${extensionUri.scheme}://${extensionUri.authority}`;
  const { paths } = (await (await fetch(`${origin}/shop`)).json()) as Shop;
  await Promise.all(
    paths.map(async (path) => {
      files.set(path, { bytes: new Uint8Array(await (await fetch(`${origin}/shop${path}`)).arrayBuffer()), mtime: 1 });
    }),
  );
  context.subscriptions.push(vscode.workspace.registerFileSystemProvider('shop', provider, { isCaseSensitive: true }));
}
