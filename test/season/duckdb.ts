// DuckDB from its npm package, installed into the cache on first use: too large for everybody's set-up.

import { createRequire } from 'node:module';
import { join } from 'node:path';
import { cacheFolder } from '../editor/places.js';
import { installOnce, npmInstall } from '../editor/install.js';

const PACKAGE = '@duckdb/node-api@1.5.6-r.1';

interface Connection {
  runAndReadAll(sql: string): Promise<{ getRowObjectsJson(): Record<string, string | number | null>[] }>;
}

/** Throws `Unavailable` where it cannot be had. */
export async function openDuckdb(): Promise<Connection> {
  const folder = join(cacheFolder, 'duckdb-1.5.6');
  installOnce(folder, (unfinished) => npmInstall(unfinished, PACKAGE));
  const { DuckDBInstance } = createRequire(join(folder, 'package.json'))('@duckdb/node-api') as {
    DuckDBInstance: { create(path: string): Promise<{ connect(): Promise<Connection> }> };
  };
  return (await DuckDBInstance.create(':memory:')).connect();
}
