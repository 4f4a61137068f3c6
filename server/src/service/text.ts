// Small texts (tables, vehicle files) out of bytes, by the same rules as a session's, and back into the same bytes.

import { bytesSource, sameBytes, type ByteSource } from '../formats/source.js';

/** A table or vehicle file longer than this is something else by that name; only its start is read, and the readers say what is wrong. */
const MOST_BYTES = 32 << 20;

/** How a text stands in its file. */
export interface TextForm {
  readonly encoding: 'utf-8' | 'utf-16le' | 'utf-16be' | 'windows-1252';
  readonly mark: boolean;
}

/** UTF-8 or UTF-16 with its mark, UTF-8 without, else Windows-1252. The mark is not in the text. */
export function decoded(source: ByteSource): { readonly text: string; readonly form: TextForm } {
  const bytes = source.read(0, Math.min(source.size, MOST_BYTES));
  const as = (encoding: TextForm['encoding'], mark: boolean): { text: string; form: TextForm } => ({
    text: new TextDecoder(encoding).decode(bytes),
    form: { encoding, mark },
  });
  if (bytes[0] === 0xff && bytes[1] === 0xfe) return as('utf-16le', true);
  if (bytes[0] === 0xfe && bytes[1] === 0xff) return as('utf-16be', true);
  try {
    return {
      text: new TextDecoder('utf-8', { fatal: true }).decode(bytes),
      form: { encoding: 'utf-8', mark: bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf },
    };
  } catch {
    const { text, form } = as('windows-1252', false);
    return { text: text.replace(/[\u0080-\u009f]/g, (control) => UPPER[control.charCodeAt(0) - 0x80]), form };
  }
}

/**
 * A file's bytes with its text changed, in the file's own form. Undefined where they cannot be written without loss: the file is too long
 * to be read whole, its bytes are not all text, or its form has no character for something new.
 */
export function rewritten(source: ByteSource, change: (text: string) => string): Uint8Array | undefined {
  if (source.size > MOST_BYTES) return undefined;
  const { text, form } = decoded(source);
  if (!sameBytes(bytesSource(encoded(text, form)), source)) return undefined;
  const after = change(text);
  const bytes = encoded(after, form);
  return decoded(bytesSource(bytes)).text === after ? bytes : undefined;
}

export const textOf = (source: ByteSource): string => decoded(source).text;

/** The way back: the bytes of a text in a file's own form. What was decoded comes out byte for byte. */
export function encoded(text: string, { encoding, mark }: TextForm): Uint8Array {
  switch (encoding) {
    case 'utf-8':
      return new TextEncoder().encode(mark ? `\ufeff${text}` : text);
    case 'windows-1252':
      return Uint8Array.from(text, (character) => WINDOWS_1252.get(character) ?? 0x3f);
    case 'utf-16le':
    case 'utf-16be': {
      const whole = mark ? `\ufeff${text}` : text;
      const bytes = new Uint8Array(whole.length * 2);
      for (let at = 0; at < whole.length; at++) {
        const code = whole.charCodeAt(at);
        bytes[2 * at + (encoding === 'utf-16le' ? 0 : 1)] = code & 0xff;
        bytes[2 * at + (encoding === 'utf-16le' ? 1 : 0)] = code >> 8;
      }
      return bytes;
    }
  }
}

/** Bytes 80 to 9F of Windows-1252 (WHATWG Encoding standard); some hosts' decoders leave them as control characters. */
const UPPER = [...'€\u0081‚ƒ„…†‡ˆ‰Š‹Œ\u008dŽ\u008f\u0090‘’“”•–—˜™š›œ\u009džŸ'];
const WINDOWS_1252: ReadonlyMap<string, number> = new Map(
  Array.from({ length: 256 }, (_, byte) => [byte >= 0x80 && byte < 0xa0 ? UPPER[byte - 0x80] : String.fromCharCode(byte), byte]),
);
