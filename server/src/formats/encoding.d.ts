// The two text coders that every JavaScript host has (WHATWG Encoding), and its copier of plain data (WHATWG HTML), declared so that the
// core needs no host's types.

declare class TextEncoder {
  encode(text: string): Uint8Array;
  encodeInto(text: string, bytes: Uint8Array): { readonly read: number; readonly written: number };
}
declare class TextDecoder {
  constructor(label?: string, options?: { fatal?: boolean; ignoreBOM?: boolean });
  decode(bytes?: Uint8Array, options?: { stream?: boolean }): string;
}
declare function structuredClone<T>(value: T): T;
