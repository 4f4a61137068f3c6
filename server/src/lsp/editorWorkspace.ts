// The workspace as the editor sees it: what is open there before what lies on disk.

import type { TextDocuments } from 'vscode-languageserver';
import type { EditLog } from './editLog.js';
import { LongText, type OpenText } from './longText.js';
import { URI } from 'vscode-uri';
import { textSource, type ByteSource } from '../formats/source.js';
import { isBelow } from '../service/uris.js';
import type { Workspace } from '../service/workspace.js';

export interface EditorWorkspace extends Workspace {
  /** The open document of a file, however the editor spells its address. */
  document(uri: string): OpenText | undefined;
  setFolders(folders: readonly string[]): void;
  /** Files came or went: what was found before no longer holds. `told`: the client tells every such change, so that until then it does. */
  filesChanged(told?: boolean): void;
}

/** How long a search holds where nobody tells of new files, ms. */
const SEARCH_HOLDS_MS = 2000;

/** Addresses compared: editors differ in what they percent-encode. */
export const normalUri = (uri: string): string => URI.parse(uri).toString();

/** `log`: of what was edited; without one nothing is followed. */
export function editorWorkspace(
  open: TextDocuments<OpenText>,
  createDisk: (folders: readonly string[]) => Workspace,
  log?: EditLog,
): EditorWorkspace {
  let disk = createDisk([]);
  const searches = new Map<string, { readonly at: number; readonly found: Promise<readonly string[]> }>();
  let isTold = false;
  const sources = new WeakMap<OpenText, { version: number; source: ByteSource }>();
  /** Long texts as they were opened: the stamp of the file on the disk, where its bytes are the same. */
  const openedAs = new WeakMap<
    OpenText,
    { readonly version: number; readonly stamp: Promise<string | undefined>; known?: string | undefined }
  >();
  const spelled = new Map<string, string>();
  open.onDidOpen(({ document }) => spelled.set(normalUri(document.uri), document.uri));
  open.onDidClose(({ document }) => spelled.delete(normalUri(document.uri)));

  /** The client watches the open folders only. */
  const toldOf = (folderUri: string): boolean =>
    isTold && disk.folders.some((folder) => folder === folderUri || isBelow(folder, folderUri));

  const document = (uri: string): OpenText | undefined => open.get(spelled.get(uri) ?? spelled.get(normalUri(uri)) ?? uri);

  /**
   * What is opened is mostly what lies on the disk: all that was found of it holds, and nothing is read again for its being opened or
   * closed.
   */
  const asOnDisk = (uri: string, editor: OpenText): Promise<string | undefined> | undefined => {
    if (!(editor instanceof LongText) || !uri.startsWith('file:')) return undefined;
    let opened = openedAs.get(editor);
    if (!opened) {
      openedAs.set(editor, (opened = { version: editor.version, stamp: stampOfSame(uri) }));
      void opened.stamp.then((stamp) => {
        opened!.known = stamp;
      });
    }
    return opened.version === editor.version ? opened.stamp : undefined;
  };
  const stampOfSame = async (uri: string): Promise<string | undefined> => {
    try {
      const stamp = await disk.stamp(uri),
        text = stamp === undefined ? undefined : await workspace.open(uri);
      return text && disk.holds?.(uri, text.read(0, text.size)) && (await disk.stamp(uri)) === stamp ? stamp : undefined;
    } catch {
      return undefined;
    }
  };

  const workspace: EditorWorkspace = {
    get folders() {
      return disk.folders;
    },
    get bounds() {
      return disk.folders;
    },
    setFolders(folders) {
      disk = createDisk(folders);
      searches.clear();
    },
    filesChanged(told = isTold) {
      isTold = told;
      searches.clear();
    },
    document,
    languageId: (uri) => document(uri)?.languageId,
    async open(uri) {
      const editor = document(uri);
      if (!editor) return disk.open(uri);
      let kept = sources.get(editor);
      if (!kept || kept.version !== editor.version)
        sources.set(
          editor,
          (kept = { version: editor.version, source: editor instanceof LongText ? editor.source() : textSource(editor.getText()) }),
        );
      return kept.source;
    },
    async stamp(uri) {
      const editor = document(uri);
      return editor ? ((await asOnDisk(uri, editor)) ?? stampOf(editor, editor.version)) : disk.stamp(uri);
    },
    edited(uri, stamp) {
      const editor = document(uri);
      const opened = editor && openedAs.get(editor);
      const edits =
        editor &&
        log?.since(
          editor,
          (version) => stamp === (opened?.version === version ? opened.known : undefined) || stamp === stampOf(editor, version),
        );
      return editor && edits && { edits, lines: (from, to) => linesOf(editor, from, to) };
    },
    find(folderUri, globs) {
      const key = JSON.stringify([folderUri, globs]);
      let search = searches.get(key);
      if (!search || (!toldOf(folderUri) && Date.now() - search.at > SEARCH_HOLDS_MS))
        searches.set(key, (search = { at: Date.now(), found: disk.find(folderUri, globs) }));
      return search.found;
    },
    resolve: (folderUri, path) => disk.resolve(folderUri, path),
  };
  return workspace;
}

const stampOf = (editor: OpenText, version: number): string => `open:${editor.languageId}:${version}:${openedNumber(editor)}`;

/** Lines `from` (inclusive) to `to` (exclusive, cut to the text), each with its line end. */
export const linesOf = (editor: OpenText, from: number, to: number): string[] =>
  Array.from({ length: Math.max(0, Math.min(to, editor.lineCount) - from) }, (_, index) =>
    editor.getText({ start: { line: from + index, character: 0 }, end: { line: from + index + 1, character: 0 } }),
  );

/** Versions start anew when a file is opened again; this tells the openings apart. */
const numbers = new WeakMap<OpenText, number>();
let opened = 0;
function openedNumber(document: OpenText): number {
  let number = numbers.get(document);
  if (number === undefined) numbers.set(document, (number = ++opened));
  return number;
}
