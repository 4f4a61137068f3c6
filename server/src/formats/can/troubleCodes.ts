// Trouble codes on the bus: two bytes as the text that everybody knows (SAE J2012), and the answers of services 03, 07 and 0A.

import type { LoggedCode } from '../session/session.js';

const LETTERS = 'PCBU';

/** Two bytes → `P0171`; undefined for two zeros, which fill up a message. SAE J2012 / ISO 15031-6. */
export const codeText = (high: number, low: number): string | undefined =>
  high === 0 && low === 0
    ? undefined
    : LETTERS[high >> 6] + ((high >> 4) & 3) + (((high & 15) << 8) | low).toString(16).toUpperCase().padStart(3, '0');

/** How the controller holds a code, by the answer's first byte. SAE J1979. */
export const CODE_STATES: ReadonlyMap<number, NonNullable<LoggedCode['state']>> = new Map([
  [0x43, 'stored'],
  [0x47, 'pending'],
  [0x4a, 'permanent'],
]);

/** A code of an answer and the payload byte that it begins at. */
export interface CodeInAnswer {
  readonly text: string;
  readonly byte: number;
}

/**
 * Codes of an answer to service 03, 07 or 0A on CAN: service, count, two bytes a code. Never more than were counted or are there.
 * `short` where fewer came than were counted.
 */
export const codesOfAnswer = (
  payload: Uint8Array,
  length: number,
): { readonly codes: readonly CodeInAnswer[]; readonly short: boolean } => {
  const counted = length > 1 ? payload[1] : 0;
  const whole = Math.min(counted, (length - 2) >> 1);
  const codes: CodeInAnswer[] = [];
  for (let index = 0; index < whole; index++) {
    const byte = 2 + 2 * index;
    const text = codeText(payload[byte], payload[byte + 1]);
    if (text !== undefined) codes.push({ text, byte });
  }
  return { codes, short: length < 2 || whole < counted };
};
