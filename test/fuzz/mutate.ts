// Inputs that nobody would write: whole texts changed byte by byte, and changed by what their grammar is made of. The same draw gives the
// same input.

import type { Random } from '../support/faults/random.js';

/** What a kind of file is made of: whole examples, and the words and signs that have a meaning in it. */
export interface Grammar {
  readonly examples: readonly string[];
  readonly tokens: readonly string[];
}

/** Signs that mean something to some reader, whatever the kind of file. */
const SIGNS = [
  ',',
  ';',
  '\t',
  '"',
  '""',
  "'",
  '#',
  ':',
  '\n',
  '\r\n',
  '\r',
  ' ',
  '\0',
  '\ufeff',
  '\ufffd',
  '\u2028',
  '\u0085',
  '-',
  '+',
  '.',
  '..',
  '../',
  '\\',
  '{',
  '}',
  '[',
  ']',
  '(',
  ')',
  '|',
  '*',
  '?',
  '<',
  '>',
  '&',
  '=',
  '@',
  '%',
  '\u001b[31m',
  '0',
  '-0',
  '1e308',
  '1e999',
  '-1e999',
  'NaN',
  'Infinity',
  '-Infinity',
  '9007199254740993',
  '0x1F',
  '1,5',
  '1.234.567,8',
  '.',
  '5.',
  '.5',
  'e',
  'true',
  'null',
  '😀',
  '𝄞',
  'é',
  'e\u0301',
  '\ud800',
  '°',
  'λ',
  '__proto__',
  'constructor',
  'toString',
  'hasOwnProperty',
];

type Change = (text: string, random: Random, grammar: Grammar) => string;

const spot = (text: string, random: Random): number => random.whole(0, text.length);
/** A short stretch far more often than a long one. */
const stretch = (text: string, random: Random): [number, number] => {
  const from = spot(text, random);
  return [from, Math.min(text.length, from + Math.floor(random.next() ** 4 * text.length) + 1)];
};
const linesOf = (text: string): string[] => text.split(/(?<=\n)/);

/** By the grammar: tokens and lines put in, taken out, moved, repeated, mixed with another example. */
const CHANGES: readonly Change[] = [
  (text, random, { tokens }) => insert(text, spot(text, random), random.pick(random.chance(0.5) ? tokens : SIGNS)),
  (text, random, { tokens }) => {
    const [from, to] = stretch(text, random);
    return text.slice(0, from) + random.pick(random.chance(0.5) ? tokens : SIGNS) + text.slice(to);
  },
  (text, random) => {
    const [from, to] = stretch(text, random);
    return text.slice(0, from) + text.slice(to);
  },
  (text, random) => {
    const [from, to] = stretch(text, random);
    return insert(text, spot(text, random), text.slice(from, to));
  },
  (text, random) => text.slice(0, spot(text, random)),
  (text, random) => {
    const lines = linesOf(text);
    const [a, b] = [random.whole(0, lines.length - 1), random.whole(0, lines.length - 1)];
    [lines[a], lines[b]] = [lines[b]!, lines[a]!];
    return lines.join('');
  },
  (text, random) => {
    const lines = linesOf(text);
    lines.splice(random.whole(0, lines.length - 1), 1);
    return lines.join('');
  },
  (text, random) => {
    const lines = linesOf(text);
    const at = random.whole(0, lines.length - 1);
    lines.splice(at, 0, ...Array.from({ length: random.whole(1, 12) }, () => lines[at]!));
    return lines.join('');
  },
  (text, random, { examples }) => {
    const other = random.pick(examples);
    return text.slice(0, spot(text, random)) + other.slice(spot(other, random));
  },
  (text, random) => text.replaceAll('\n', random.pick(['\r\n', '\r', '\n\n', '\n\r', ''])),
  (text, random) => text.replaceAll(',', random.pick([';', '\t', ',,', ' , ', ''])),
  (text, random) => {
    // Another number in the place of one that is there.
    const numbers = [...text.matchAll(/-?\d+(?:\.\d+)?/g)];
    if (numbers.length === 0) return text;
    const { 0: old, index } = random.pick(numbers);
    const value = random.pick([
      () => String(Number(old) * 10 ** random.whole(-12, 12)),
      () => `-${old}`,
      () => old.replace('.', ','),
      () => `${old}e${random.whole(-400, 400)}`,
      () => String(2 ** random.whole(0, 64)),
      () => '',
    ])();
    return text.slice(0, index) + value + text.slice(index + old.length);
  },
  (text, random, { tokens }) => {
    const at = spot(text, random);
    return insert(text, at, random.pick(random.chance(0.5) ? tokens : SIGNS).repeat(random.whole(2, 200)));
  },
];

const insert = (text: string, at: number, what: string): string => text.slice(0, at) + what + text.slice(at);

/** The longest that an input grows to, characters. */
const LONGEST = 6000;

/** One input: an example, changed a few times by its grammar, then now and then in its bytes or its encoding. */
export function inputOf(grammar: Grammar, random: Random): Uint8Array {
  let text = random.chance(0.03) ? '' : random.pick(grammar.examples);
  for (let changes = random.whole(0, 5); changes >= 0; changes--) text = random.pick(CHANGES)(text, random, grammar).slice(0, LONGEST);
  const bytes = encodedOf(text, random);
  if (!random.chance(0.3)) return bytes;
  for (let changes = random.whole(1, 8); changes > 0 && bytes.length > 0; changes--) {
    const at = random.whole(0, bytes.length - 1);
    bytes[at] = random.chance(0.5)
      ? bytes[at]! ^ (1 << random.whole(0, 7))
      : random.pick([0, 9, 10, 13, 34, 44, 59, 0x7f, 0x80, 0xc0, 0xe2, 0xed, 0xf0, 0xff, random.whole(0, 255)]);
  }
  return random.chance(0.3) ? bytes.slice(0, random.whole(0, bytes.length)) : bytes;
}

function encodedOf(text: string, random: Random): Uint8Array {
  if (random.chance(0.9)) return new TextEncoder().encode(text);
  if (random.chance(0.5)) return Uint8Array.from(text, (sign) => sign.charCodeAt(0) & 0xff);
  const [low, high] = random.chance(0.5) ? [0, 1] : [1, 0];
  const bytes = new Uint8Array(2 + 2 * text.length);
  bytes[low] = 0xff;
  bytes[high] = 0xfe;
  for (let at = 0; at < text.length; at++) {
    bytes[2 + 2 * at + low] = text.charCodeAt(at) & 0xff;
    bytes[2 + 2 * at + high] = text.charCodeAt(at) >> 8;
  }
  return bytes;
}

/** The same input made long: one of its stretches again and again, up to so many bytes. */
export function longInputOf(grammar: Grammar, random: Random, bytes: number): Uint8Array {
  const once = inputOf(grammar, random);
  if (once.length === 0) return once;
  const from = random.whole(0, once.length - 1);
  const piece = once.subarray(from, Math.min(once.length, from + 1 + Math.floor(random.next() ** 3 * once.length)));
  const out = new Uint8Array(bytes);
  out.set(once.subarray(0, from));
  for (let at = from; at < bytes; at += piece.length) out.set(piece.subarray(0, bytes - at), at);
  return out;
}
