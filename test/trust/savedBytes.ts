// The two texts that are saved in turn where a save is interrupted: each tells whether it is whole.

/** 300 KB of one digit, another length for each. */
export const savedBytes = (which: number): Uint8Array => new Uint8Array(300_000 + which).fill(0x30 + which);
