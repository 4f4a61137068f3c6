// A JSON text with the place of everything in it: what the vehicle reader needs of a parser, made safe for hostile texts.

import { parseTree, printParseErrorCode, type Node, type ParseError } from 'jsonc-parser';
import { range, type Position, type Range } from '../range.js';

export type JsonNode = Node;
/** Keys of objects and indices of lists, from the root on. */
export type Path = readonly (string | number)[];
export interface JsonText {
  readonly root: JsonNode | undefined;
  readonly errors: readonly { readonly what: string; readonly range: Range }[];
  rangeOf(node: JsonNode): Range;
  at(path: readonly (string | number)[]): JsonNode | undefined;
}

/** Deepest nesting that is read; vehicle.json needs six. */
export const MOST_LEVELS = 64;

const nesting = (text: string): number => {
  let deepest = 0,
    depth = 0,
    inString = false;
  for (let i = 0; i < text.length; i++) {
    const character = text[i];
    if (inString) {
      if (character === '\\') i++;
      else if (character === '"' || character === '\n' || character === '\r') inString = false;
    } else if (character === '"') inString = true;
    else if (character === '/' && (text[i + 1] === '/' || text[i + 1] === '*')) {
      // A quote or bracket in a comment opens nothing.
      const end = text[i + 1] === '*' ? text.indexOf('*/', i + 2) : text.slice(i).search(/[\r\n]/) + i;
      if (end < i) break;
      i = text[i + 1] === '*' ? end + 1 : end;
    } else if (character === '{' || character === '[') deepest = Math.max(deepest, ++depth);
    else if (character === '}' || character === ']') depth--;
  }
  return deepest;
};

/** Whether a parser that climbs down by calling itself could run out of stack on it. */
export const isTooDeep = (text: string): boolean => nesting(text) > MOST_LEVELS;

const placer = (text: string): ((from: number, to: number) => Range) => {
  const starts = [0];
  for (const ending = /\r\n|\r|\n/g; ending.exec(text);) starts.push(ending.lastIndex);
  const place = (offset: number): Position => {
    let low = 0,
      high = starts.length;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (starts[middle] <= offset) low = middle;
      else high = middle;
    }
    return { line: low, character: offset - starts[low] };
  };
  return (from, to) => {
    const start = place(from),
      end = place(Math.min(to, text.length));
    return range(start.line, start.character, end.line, end.character);
  };
};

/**
 * Values of each object by key, made when first asked for: a list of a hundred thousand keys must not be searched once for each. Of two
 * alike keys the last counts.
 */
const byKey = new WeakMap<JsonNode, ReadonlyMap<string, JsonNode>>();

/** The value of a key of an object, the element of a list; undefined where there is none. */
export const childOf = (node: JsonNode, key: string | number): JsonNode | undefined => {
  if (node.type === 'array') return node.children?.[Number(key)];
  if (node.type !== 'object') return undefined;
  let values = byKey.get(node);
  if (!values) {
    values = new Map(
      (node.children ?? []).flatMap(({ children }) =>
        children && children.length > 1 ? [[keyOf(children[0]), children[1]] as const] : [],
      ),
    );
    byKey.set(node, values);
  }
  return values.get(String(key));
};

/** A key, halves of surrogate pairs made whole: no pointer can hold those. */
export const keyOf = (node: JsonNode): string =>
  (node.value as string).replace(/[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g, '\ufffd');

/** Plain words for what jsonc-parser names in code. */
const plainWords = (code: number): string =>
  printParseErrorCode(code)
    .replace(/([a-z])([A-Z])/g, '$1 $2')
    .toLowerCase();

/** The comma that stands before a closing bracket at or behind `offset`; −1 where there is none. */
const commaBefore = (text: string, offset: number): number => {
  if (!/^\s*[}\]]/.test(text.slice(offset, offset + 200))) return -1;
  let at = offset - 1;
  while (at >= 0 && /\s/.test(text[at])) at--;
  return text[at] === ',' ? at : -1;
};

/** The parser's complaints in words; a comma before a closing bracket, of which it makes several, is one at the comma. */
const wordedErrors = (text: string, errors: readonly ParseError[], place: (from: number, to: number) => Range): JsonText['errors'] => {
  const commas = new Set<number>();
  return errors.flatMap(({ error, offset, length }) => {
    const comma = commaBefore(text, offset);
    if (comma < 0) return [{ what: plainWords(error), range: place(offset, offset + length) }];
    if (commas.has(comma)) return [];
    commas.add(comma);
    return [{ what: 'a comma stands before the closing bracket: take it out', range: place(comma, comma + 1) }];
  });
};

/** Parses leniently: what can be read of a broken text is. Undefined where it is nested deeper than `MOST_LEVELS`. */
export const parseJson = (text: string): JsonText | undefined => {
  const plain = text.startsWith('\ufeff') ? ` ${text.slice(1)}` : text;
  if (isTooDeep(plain)) return undefined;
  const errors: ParseError[] = [];
  const root = parseTree(plain, errors, { disallowComments: true, allowTrailingComma: false });
  const place = placer(text);
  return {
    root,
    errors: wordedErrors(plain, errors, place),
    rangeOf: (node) => place(node.offset, node.offset + node.length),
    at: (path) => path.reduce<JsonNode | undefined>((node, key) => node && childOf(node, key), root),
  };
};

/** The value of a node. Objects have no prototype, so that no key of a file can be mistaken for a method. */
export const valueOf = (node: JsonNode): unknown => {
  if (node.type === 'array') return (node.children ?? []).map(valueOf);
  if (node.type !== 'object') return node.value as unknown;
  const value = Object.create(null) as Record<string, unknown>;
  for (const { children } of node.children ?? []) if (children && children.length > 1) value[keyOf(children[0])] = valueOf(children[1]);
  return value;
};

/** A JSON pointer as path; numbers only where the text has a list. */
export const pathOf = (pointer: string, root: JsonNode): Path => {
  const keys = pointer
    .split('/')
    .slice(1)
    .map((part) => decodeURIComponent(part).replaceAll('~1', '/').replaceAll('~0', '~'));
  const path: (string | number)[] = [];
  let node: JsonNode | undefined = root;
  for (const key of keys) {
    const isList: boolean = node?.type === 'array';
    path.push(isList ? Number(key) : key);
    node = node && childOf(node, key);
  }
  return path;
};
