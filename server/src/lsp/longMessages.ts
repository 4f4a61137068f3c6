// A long text that is opened comes in one message. Read as any other, it would be made a string twice and bytes again, and the server would
// answer nobody meanwhile: so its bytes are un-escaped where they lie, and made a string piece by piece, where somebody asks.

import { isAscii, isUtf8 } from 'node:buffer';
import type { StreamMessageReader } from 'vscode-languageserver/node';
import type { ArrivedText } from './longText.js';

type Decoder = NonNullable<Exclude<ConstructorParameters<typeof StreamMessageReader>[1], string | undefined>['contentTypeDecoder']>;
type Message = Awaited<ReturnType<Decoder['decode']>>;
interface DidOpen {
  readonly method?: unknown;
  readonly params?: { readonly textDocument?: { text?: unknown } | null } | null;
}

/** Bytes of a body from which it is looked into. */
const LONG_BODY_BYTES = 1 << 20;

/** How messages are read; of a `didOpen` at least so long, `text` is an `ArrivedText`, in place of a string. */
export const longMessages = (fromBytes = LONG_BODY_BYTES): Decoder => ({
  name: 'application/json',
  decode: async (body) => {
    const bytes = Buffer.from(body.buffer, body.byteOffset, body.byteLength);
    return (bytes.length >= fromBytes ? opening(bytes, fromBytes / 2) : undefined) ?? (JSON.parse(textOf(bytes)) as Message);
  },
});

/** Latin-1 is decoded ten times as fast as UTF-8, and of plain characters it is the same. */
const textOf = (bytes: Buffer): string => bytes.toString(isAscii(bytes) ? 'latin1' : 'utf8');

/**
 * Undefined, and nothing is changed, where the body is not that of a `didOpen` whose text is its only string of so many bytes. Throws as
 * `JSON.parse` does.
 */
function opening(body: Buffer, fromBytes: number): Message | undefined {
  const long = isUtf8(body) ? firstLongString(body, fromBytes) : undefined;
  if (!long) return undefined;
  const around = (text: string): DidOpen =>
    JSON.parse(`${body.toString('utf8', 0, long.from)}${text}${body.toString('utf8', long.to)}`) as DidOpen;
  // By two texts in its place it is seen whether it is the text, and the last of that name.
  const message = around(''),
    document = message.params?.textDocument;
  if (message.method !== 'textDocument/didOpen' || document?.text !== '' || around('x').params?.textDocument?.text !== 'x')
    return undefined;
  document.text = unescaped(body.subarray(long.from, long.to));
  return message as Message;
}

const QUOTE = 34,
  BACKSLASH = 92,
  LETTER_U = 117;

/** Where the first string of so many bytes lies between its quotes. */
function firstLongString(body: Buffer, fromBytes: number): { readonly from: number; readonly to: number } | undefined {
  for (let opens = body.indexOf(QUOTE); opens >= 0;) {
    const from = opens + 1,
      to = closingQuote(body, from);
    if (to < 0 || to - from >= fromBytes) return to < 0 ? undefined : { from, to };
    opens = body.indexOf(QUOTE, to + 1);
  }
  return undefined;
}

/** The first quote that no backslash escapes; −1 for none. */
function closingQuote(body: Buffer, from: number): number {
  for (let quote = body.indexOf(QUOTE, from); quote >= 0; quote = body.indexOf(QUOTE, quote + 1)) {
    let before = quote;
    while (body[before - 1] === BACKSLASH) before--;
    if ((quote - before) % 2 === 0) return quote;
  }
  return -1;
}

/** RFC 8259, section 7: what a letter behind a backslash stands for. */
const ESCAPES: readonly (number | undefined)[] = Object.entries({
  '"': '"',
  '\\': '\\',
  '/': '/',
  b: '\b',
  f: '\f',
  n: '\n',
  r: '\r',
  t: '\t',
}).reduce<(number | undefined)[]>((all, [letter, stands]) => {
  all[letter.charCodeAt(0)] = stands.charCodeAt(0);
  return all;
}, []);

/**
 * In place: what is escaped is longer than what it stands for. A string where UTF-8 cannot say it, for half a surrogate pair. Control
 * characters, which should be escaped, are taken as they are.
 */
function unescaped(raw: Buffer): ArrivedText | string {
  let out = 0;
  for (let at = 0; ;) {
    const next = raw.indexOf(BACKSLASH, at),
      end = next < 0 ? raw.length : next;
    raw.copyWithin(out, at, end);
    out += end - at;
    if (next < 0) return new Arrived(raw.subarray(0, out));
    const stands = ESCAPES[raw[end + 1]];
    if (stands !== undefined) {
      raw[out++] = stands;
      at = end + 2;
      continue;
    }
    // Two make one character, where the first is the higher half of it.
    const isHigher = /^d[89ab]/i.test(raw.toString('latin1', end + 2, end + 4)) && raw[end + 6] === BACKSLASH && raw[end + 7] === LETTER_U;
    at = end + (isHigher ? 12 : 6);
    const text = JSON.parse(`"${raw.toString('latin1', end, at)}"`) as string;
    if (/\p{Surrogate}/u.test(text)) return textOf(raw.subarray(0, out)) + (JSON.parse(`"${raw.toString('utf8', end)}"`) as string);
    out += raw.write(text, out);
  }
}

class Arrived implements ArrivedText {
  /** No `Buffer`: a slice of that is no copy. */
  readonly bytes: Uint8Array;
  constructor(private readonly buffer: Buffer) {
    this.bytes = new Uint8Array(buffer.buffer, buffer.byteOffset, buffer.length);
  }
  text(from = 0, to = this.buffer.length): string {
    return textOf(this.buffer.subarray(from, to));
  }
  /** For a log of the messages. */
  toJSON(): string {
    return this.text();
  }
}
