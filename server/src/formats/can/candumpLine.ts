// One line of a capture as the logger of Linux can-utils writes it: `(seconds.microseconds) interface id#data`.

/** A frame as read; one object is used again for line after line. Offsets count from the start of the bytes that the line was read from. */
export interface Frame {
  /** Clock of the line: whole seconds and the rest, apart so that microseconds survive beside a count since 1970. */
  wholeS: number;
  fractionS: number;
  interfaceStart: number;
  interfaceEnd: number;
  /** 11 bits, 29 bits where `extended`; the error class where `error`. */
  id: number;
  extended: boolean;
  remote: boolean;
  fd: boolean;
  error: boolean;
  /** Bytes of data; of a remote request the length asked for. */
  length: number;
  /** The first `length` are data, except for a remote request. */
  readonly data: Uint8Array;
  /** The data as written, dots between the bytes included. */
  dataStart: number;
  dataEnd: number;
}

/** What of a line is not as it should be. */
export type Refusal = 'clock' | 'interface' | 'identifier' | 'data' | 'length' | 'rest';
export interface Refused {
  readonly why: Refusal;
  readonly at: number;
}

export const LONGEST_CLASSIC = 8;
export const LONGEST_FD = 64;
const MOST_STANDARD_ID = 0x7ff;
const MOST_EXTENDED_ID = 0x1fffffff;
/** Bit of an eight-digit identifier that marks an error frame (Linux CAN_ERR_FLAG). */
const ERROR_BIT = 0x20000000;

const SPACE = 32;
const TAB = 9;
const DOT = 46;
const HASH = 35;
const LETTER_R = 82;
const UNDERSCORE = 95;

export const newFrame = (): Frame => ({
  wholeS: 0,
  fractionS: 0,
  interfaceStart: 0,
  interfaceEnd: 0,
  id: 0,
  extended: false,
  remote: false,
  fd: false,
  error: false,
  length: 0,
  data: new Uint8Array(LONGEST_FD),
  dataStart: 0,
  dataEnd: 0,
});

/** Value of each byte as a hex digit; 255 for any other. */
const HEX = Uint8Array.from({ length: 256 }, (_, byte) =>
  byte >= 48 && byte <= 57 ? byte - 48 : byte >= 65 && byte <= 70 ? byte - 55 : byte >= 97 && byte <= 102 ? byte - 87 : 255,
);

const POWERS_OF_TEN = Float64Array.from({ length: 10 }, (_, digits) => 10 ** digits);

const isDigit = (byte: number): boolean => byte >= 48 && byte <= 57;
const isBlank = (byte: number): boolean => byte === SPACE || byte === TAB;

/**
 * Reads the line `bytes[start..end)` (its line end taken off) into `frame`. Undefined where it is a frame, else what is wrong and where;
 * `frame` then holds no meaning. Layout: can-utils `lib.h`.
 */
export const readCandumpLine = (bytes: Uint8Array, start: number, end: number, frame: Frame): Refused | undefined => {
  let at = start;
  while (at < end && isBlank(bytes[at])) at++;
  while (end > at && isBlank(bytes[end - 1])) end--;

  if (at >= end || bytes[at] !== 40) return { why: 'clock', at };
  const wholeStart = ++at;
  let wholeS = 0;
  while (at < end && isDigit(bytes[at])) wholeS = wholeS * 10 + bytes[at++] - 48;
  if (at === wholeStart || at - wholeStart > 12 || at >= end || bytes[at] !== DOT) return { why: 'clock', at };
  const fractionStart = ++at;
  let fraction = 0;
  while (at < end && isDigit(bytes[at])) fraction = fraction * 10 + bytes[at++] - 48;
  const fractionDigits = at - fractionStart;
  if (fractionDigits === 0 || fractionDigits > 9 || at >= end || bytes[at] !== 41) return { why: 'clock', at };
  at++;
  frame.wholeS = wholeS;
  frame.fractionS = fraction / POWERS_OF_TEN[fractionDigits];

  if (at >= end || !isBlank(bytes[at])) return { why: 'interface', at };
  while (at < end && isBlank(bytes[at])) at++;
  frame.interfaceStart = at;
  while (at < end && bytes[at] > SPACE && bytes[at] < 127 && bytes[at] !== HASH) at++;
  frame.interfaceEnd = at;
  if (at === frame.interfaceStart || at >= end || !isBlank(bytes[at])) return { why: 'interface', at: frame.interfaceStart };
  while (at < end && isBlank(bytes[at])) at++;

  const idStart = at;
  let id = 0;
  while (at < end && at - idStart < 9 && HEX[bytes[at]] < 16) id = id * 16 + HEX[bytes[at++]];
  const idDigits = at - idStart;
  if ((idDigits !== 3 && idDigits !== 8) || at >= end || bytes[at] !== HASH) return { why: 'identifier', at: idStart };
  // Eight digits with the error bit stand above the 29 bits that an identifier has.
  frame.error = idDigits === 8 && id >= ERROR_BIT && id < 2 * ERROR_BIT;
  frame.extended = idDigits === 8 && !frame.error;
  frame.id = frame.error ? id - ERROR_BIT : id;
  if (frame.id > (idDigits === 3 ? MOST_STANDARD_ID : MOST_EXTENDED_ID)) return { why: 'identifier', at: idStart };
  at++;
  return readData(bytes, at, end, frame);
};

/** What stands behind the `#`. */
const readData = (bytes: Uint8Array, from: number, end: number, frame: Frame): Refused | undefined => {
  let at = from;
  frame.fd = at < end && bytes[at] === HASH;
  frame.remote = !frame.fd && at < end && (bytes[at] | 32) === (LETTER_R | 32);
  frame.length = 0;
  if (frame.remote) {
    at++;
    frame.dataStart = frame.dataEnd = at;
    if (at < end && isDigit(bytes[at])) frame.length = bytes[at++] - 48;
    if (frame.length > LONGEST_CLASSIC) return { why: 'length', at: at - 1 };
    return readRest(bytes, at, end, frame.length);
  }
  if (frame.fd) {
    at++;
    if (at >= end || HEX[bytes[at]] > 15) return { why: 'data', at };
    at++; // the flags: nothing here depends on the bit rate
  }
  const most = frame.fd ? LONGEST_FD : LONGEST_CLASSIC;
  frame.dataStart = at;
  let { length } = frame;
  while (at < end) {
    if (bytes[at] === DOT && length > 0 && at + 1 < end && HEX[bytes[at + 1]] < 16) at++;
    const high = HEX[bytes[at]];
    if (high > 15) break;
    const low = at + 1 < end ? HEX[bytes[at + 1]] : 255;
    if (low > 15) return { why: 'data', at };
    if (length === most) return { why: 'length', at };
    frame.data[length++] = high * 16 + low;
    at += 2;
  }
  frame.length = length;
  frame.dataEnd = at;
  return readRest(bytes, at, end, length);
};

/** The raw length code of a full classic frame (`_9` to `_F`) and the direction (`R` or `T`) may follow; anything else is refused. */
const readRest = (bytes: Uint8Array, from: number, end: number, length: number): Refused | undefined => {
  let at = from;
  if (at + 1 < end && bytes[at] === UNDERSCORE && length === LONGEST_CLASSIC && HEX[bytes[at + 1]] > 8 && HEX[bytes[at + 1]] < 16) at += 2;
  if (at === end) return undefined;
  const rest = at;
  while (at < end && isBlank(bytes[at])) at++;
  return at > rest && at === end - 1 && (bytes[at] === LETTER_R || bytes[at] === 84) ? undefined : { why: 'rest', at: rest };
};

/** Offset of the first digit of the data's byte `index`, walking over dots. */
export const dataByteAt = (bytes: Uint8Array, frame: Frame, index: number): number => {
  let at = frame.dataStart;
  for (let byte = 0; byte < index; byte++) at += bytes[at + 2] === DOT ? 3 : 2;
  return at;
};
