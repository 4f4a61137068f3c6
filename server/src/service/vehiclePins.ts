// Pins written into the author's vehicle file: one line an entry, and nothing else of his text moved.

import { findNodeAtLocation, parseTree, type Node } from 'jsonc-parser';
import { isTooDeep } from '../formats/vehicle/jsonText.js';

/** Sessions (a glob) and the table, relative to the vehicle's folder, that they were logged with. */
export interface Pin {
  readonly files: string;
  readonly loggedWith: string;
}

/**
 * The vehicle file with entries added at the end of `sessions`; undefined where it is no object or has something else than a list there.
 */
export function withPins(text: string, pins: readonly Pin[]): string | undefined {
  if (isTooDeep(text)) return undefined;
  const root = parseTree(text);
  const sessions = root && findNodeAtLocation(root, ['sessions']);
  if (root?.type !== 'object' || (sessions && sessions.type !== 'array')) return undefined;
  const entries = pins.map(({ files, loggedWith }) => `{ "files": ${JSON.stringify(files)}, "loggedWith": ${JSON.stringify(loggedWith)} }`);
  if (sessions) return withChildren(text, root, sessions, entries);
  const isOneLine = isOnOneLine(text, root) && root.children!.length > 0;
  const eol = eolOf(text);
  const inner = indentAt(text, root.offset) + stepOf(text);
  const list = isOneLine
    ? `[${entries.join(', ')}]`
    : `[${entries.map((entry) => `${eol}${inner}${stepOf(text)}${entry}`).join(',')}${eol}${inner}]`;
  return withChildren(text, root, root, [`"sessions": ${list}`]);
}

/** `added` behind the last child of a list or object: on lines of their own, except in a file that is one line altogether. */
function withChildren(text: string, root: Node, parent: Node, added: readonly string[]): string {
  const end = parent.offset + parent.length - 1;
  const last = parent.children!.at(-1);
  const start = parent.offset + 1;
  const afterChild = last ? last.offset + last.length : start;
  const { afterAll, hasComma } = behind(text, afterChild, end);
  if (isOnOneLine(text, root) && root.children!.length > 0) {
    return `${text.slice(0, afterChild)}${last && !hasComma ? ',' : ''}${text.slice(afterChild, afterAll)}${last ? ' ' : ''}${added.join(', ')}${hasComma ? ',' : ''}${text.slice(afterAll)}`;
  }
  const eol = eolOf(text);
  const opensAndEndsLine = isOnOneLine(text, parent);
  const outer = indentAt(text, parent.offset);
  const inner = last && !opensAndEndsLine ? indentAt(text, last.offset) : outer + stepOf(text);
  const lines = added.map((each) => `${eol}${inner}${each}`).join(',') + (hasComma ? ',' : '');
  const before = text.slice(0, start);
  const kept = text.slice(start, afterChild);
  const tail = `${last && !hasComma ? ',' : ''}${text.slice(afterChild, afterAll)}${lines}`;
  if (!opensAndEndsLine) return `${before}${kept}${tail}${text.slice(afterAll)}`;
  // What stood on one line stays on one, between the brackets' lines.
  return `${before}${kept.trim() === '' ? '' : `${eol}${inner}${kept.trimStart()}`}${tail}${eol}${outer}${text.slice(end)}`;
}

/** What stands between a list's last child and its bracket at `end`: whether a comma, and where the last comment or comma ends. */
function behind(text: string, afterChild: number, end: number): { afterAll: number; hasComma: boolean } {
  let [afterAll, hasComma] = [afterChild, false];
  // Blanks, comments and a comma: nothing else can stand there.
  for (const token of text.slice(afterChild, end).matchAll(/\/\/[^\r\n]*|\/\*[\s\S]*?\*\/|,/g)) {
    hasComma ||= token[0] === ',';
    afterAll = afterChild + token.index + token[0].length;
  }
  return { afterAll, hasComma };
}

const isOnOneLine = (text: string, { offset, length }: Node): boolean => !/[\r\n]/.test(text.slice(offset, offset + length));
const eolOf = (text: string): string => (text.includes('\r\n') ? '\r\n' : '\n');
/** One step of the author's indentation: that of the first indented line. */
const stepOf = (text: string): string => /^([ \t]+)\S/m.exec(text)?.[1] ?? '  ';
/** The blanks that the line of an offset begins with. */
const indentAt = (text: string, offset: number): string =>
  /^[ \t]*/.exec(text.slice(Math.max(text.lastIndexOf('\n', offset - 1), text.lastIndexOf('\r', offset - 1)) + 1))![0];
