// A place where results are kept from one start to the next, so that a large archive is not read again. What is kept may go at any time.

import { EVIDENCE_SCHEMA } from '../fueling/evidenceFile.js';

export interface Keep {
  /** Of the program: what another version found is not taken for what this one would. */
  readonly version: string;
  /** What was put under this name; undefined where there is nothing, or it cannot be read. */
  get(name: string): Promise<string | undefined>;
  /** Kept as well as may be; never throws. */
  put(name: string, text: string): Promise<void>;
}

/** Goes up whenever findings or evidence of the same bytes may come out otherwise; the program's version is part of every name as well. */
const RESULTS = 10;

/** The name of a result: what it is, of which file, and all that it was derived from. */
export const keepName = (what: string, version: string, ...parts: readonly string[]): string =>
  [what, RESULTS, EVIDENCE_SCHEMA, version, ...parts].join('\n');

/** Text open in an editor has no lasting key: what is derived from it is not kept. */
export const isLasting = (key: string): boolean => !key.includes('open:');

/** A kept JSON text as a value; undefined for nothing and for text that is broken. */
export function parsed(text: string | undefined): unknown {
  try {
    return text === undefined ? undefined : (JSON.parse(text) as unknown);
  } catch {
    return undefined;
  }
}

/** Tells states of one file apart: FNV-1a of 32 bits forwards and backwards, with the length. */
export function printOf(text: string): string {
  let [forwards, backwards] = [0x811c9dc5, 0x811c9dc5];
  for (let at = 0; at < text.length; at++) {
    forwards = Math.imul(forwards ^ text.charCodeAt(at), 0x01000193);
    backwards = Math.imul(backwards ^ text.charCodeAt(text.length - 1 - at), 0x01000193);
  }
  return `${forwards >>> 0}:${backwards >>> 0}:${text.length}`;
}
