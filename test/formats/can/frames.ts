// Captures for tests: messages in hex cut into the frames of ISO 15765-2 and written as the logger writes them. Strings only: no code of
// the reader.

export interface Sent {
  readonly id: string;
  readonly payload: string;
}

/** Frames' data in hex, eight bytes each, filled up with AA. */
export const framesOf = (payload: string): string[] => {
  const bytes = payload.length / 2;
  const fill = (data: string): string => data.padEnd(16, 'A');
  if (bytes <= 7) return [fill(`0${bytes}${payload}`)];
  const frames = [`1${bytes.toString(16).toUpperCase().padStart(3, '0')}${payload.slice(0, 12)}`];
  for (let at = 12, number = 1; at < payload.length; at += 14, number++)
    frames.push(fill(`2${(number % 16).toString(16).toUpperCase()}${payload.slice(at, at + 14)}`));
  return frames;
};

/** A line at so many microseconds after a base. */
export const lineAt = (microseconds: number, id: string, data: string, port = 'can0'): string =>
  `(${1760000000 + Math.floor(microseconds / 1e6)}.${String(microseconds % 1e6).padStart(6, '0')}) ${port} ${id}#${data}`;

/** Messages one behind the other, a frame every `stepUs`. */
export const frameLines = (sent: readonly Sent[], stepUs = 10_000): string =>
  sent
    .flatMap(({ id, payload }) => framesOf(payload).map((data) => ({ id, data })))
    .map(({ id, data }, index) => `${lineAt(index * stepUs, id, data)}\n`)
    .join('');
