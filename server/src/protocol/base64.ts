// Bytes as base64 and back, where a message goes through JSON; the same in Node and in a browser.

interface Globals {
  btoa(text: string): string;
  atob(text: string): string;
}
const { btoa, atob } = globalThis as unknown as Globals;

/** As many bytes as a function takes arguments everywhere; a multiple of three, so that the pieces join. */
const PIECE_BYTES = 24 * 1024;

export function toBase64(bytes: Uint8Array): string {
  const pieces: string[] = [];
  for (let at = 0; at < bytes.length; at += PIECE_BYTES) pieces.push(btoa(String.fromCharCode(...bytes.subarray(at, at + PIECE_BYTES))));
  return pieces.join('');
}

/** Throws where the text is no base64. */
export function fromBase64(text: string): Uint8Array {
  const signs = atob(text);
  const bytes = new Uint8Array(signs.length);
  for (let at = 0; at < signs.length; at++) bytes[at] = signs.charCodeAt(at);
  return bytes;
}
