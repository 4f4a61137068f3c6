// Small words that several outputs share, and the colours of a terminal.

import pc from 'picocolors';

/** Colour only on a terminal, and not where the user forbids it (no-color.org). */
export const coloured = pc.createColors(Boolean(process.stdout.isTTY) && !process.env.NO_COLOR && process.env.TERM !== 'dumb');

/** `1 pull`, `2 pulls`. */
export const counted = (count: number, one: string, many = `${one}s`): string => `${count} ${count === 1 ? one : many}`;

/**
 * Text from a file must not steer the terminal: control characters, and what turns the direction of writing, are shown as Unicode pictures.
 */
export const visible = (text: string): string =>
  // eslint-disable-next-line no-control-regex
  text.replace(/[\u0000-\u001f\u007f-\u009f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069]/g, (character) =>
    character < '\u0020' ? String.fromCharCode(0x2400 + character.charCodeAt(0)) : '\u2421',
  );
