// Stub.
import type { Layout } from './header.js';
import type { Session } from './session.js';
import type { ReadOptions } from './readSession.js';
import type { ReadRowsOptions } from './csv/readRows.js';
export const isLongForm = (_layout: Layout): boolean => false;
export const readLong = (_layout: Layout, _options: ReadOptions, _way: ReadRowsOptions): Session => { throw new Error('long form'); };
