// What a file is: by its name, then by the language the editor gave it, then by its first lines.

import { looksLikeCandump, readCandump } from '../formats/can/readCandump.js';
import type { SessionFollower } from '../formats/session/followSession.js';
import { readSession, type ReadOptions } from '../formats/session/readSession.js';
import { bytesSource, type ByteSource } from '../formats/source.js';
import type { Session } from '../formats/session/session.js';
import type { QuantityId } from '../quantities/quantity.js';
import { textOf } from './text.js';
import { baseName } from './uris.js';

export type FileKind = 'session' | 'table' | 'vehicle';

export const VEHICLE_FILE = 'vehicle.json';
/** Logs, and raw CAN captures of OBD-II traffic. */
export const SESSION_GLOB = '**/*.{session.csv,candump.log}';
export const TABLE_GLOB = '**/*.table.csv';

const CAPTURE_ENDING = '.candump.log';

/** Language ids of the editor. */
export const SESSION_LANGUAGE = 'session-log';
export const TABLE_LANGUAGE = 'fuel-table';

/** By name alone; undefined for a plain file. */
export function kindByName(uri: string): FileKind | undefined {
  const name = baseName(uri).toLowerCase();
  if (name === VEHICLE_FILE) return 'vehicle';
  if (name.endsWith('.session.csv') || name.endsWith(CAPTURE_ENDING)) return 'session';
  return name.endsWith('.table.csv') ? 'table' : undefined;
}

/** By the editor's language id; undefined for any other language. */
export function kindByLanguage(languageId: string | undefined): FileKind | undefined {
  return languageId === SESSION_LANGUAGE ? 'session' : languageId === TABLE_LANGUAGE ? 'table' : undefined;
}

/** Only files named so are looked into: a plain text is not opened to guess at. */
const MAY_BE_DATA = /\.(csv|tsv|txt|log|dat)$/i;

/** Enough for a header and some rows. */
const HEAD_BYTES = 64 << 10;

/** A drive shows some of these; a file with a time and a speed alone may be a bicycle's. */
const NOT_OF_AN_ENGINE: ReadonlySet<QuantityId> = new Set<QuantityId>([
  'time',
  'vehicle-speed',
  'battery-voltage',
  'barometric-pressure',
  'gear',
  'ethanol-content',
]);

/** By the first lines: a table says its quantity or axes in notes; a session has a time and at least one quantity of an engine. */
export function kindByHead(uri: string, source: ByteSource): FileKind | undefined {
  const start = MAY_BE_DATA.test(baseName(uri)) ? headOf(source) : undefined;
  if (!start) return undefined;
  if (looksLikeCandump(start)) return readCandump(start, {}).channels.length > 0 ? 'session' : undefined;
  if (
    /^\s*#\s*(quantity|columns|rows)\s*:/im.test(
      textOf(start)
        .split(/\r?\n|\r/, 40)
        .join('\n'),
    )
  )
    return 'table';
  return readsAsSession(readSession(start, {})) ? 'session' : undefined;
}

/** The first whole lines; undefined where there are none. */
export function headOf(source: ByteSource): ByteSource | undefined {
  const head = source.read(0, HEAD_BYTES);
  const lastLine = source.size > HEAD_BYTES ? head.lastIndexOf(0x0a) + 1 : head.length;
  return lastLine === 0 ? undefined : bytesSource(head.slice(0, lastLine));
}

/** A time column and an engine quantity that its name tells. */
const readsAsSession = (session: Session): boolean =>
  session.time.kind === 'column' &&
  session.channels.some(
    ({ quantity, quantityFrom }) => quantityFrom === 'name' && quantity !== undefined && !NOT_OF_AN_ENGINE.has(quantity),
  );

/**
 * A session by the reader of its form: a raw CAN capture by its name or first frame, else a log in columns, by its follower where it has
 * one.
 */
export const readAnySession = (uri: string, source: ByteSource, options: ReadOptions, follower?: SessionFollower): Session =>
  baseName(uri).toLowerCase().endsWith(CAPTURE_ENDING) || looksLikeCandump(source)
    ? readCandump(source, options)
    : follower
      ? follower.read(source, options)
      : readSession(source, options);
