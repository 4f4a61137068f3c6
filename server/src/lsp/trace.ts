// The requests of the trace view: the service asked, numbers put in base64 for their way through JSON.

import type { Connection } from 'vscode-languageserver';
import { toBase64 } from '../protocol/base64.js';
import {
  TRACE,
  type CsvParams,
  type FileParams,
  type RunsParams,
  type SampleParams,
  type SpanParams,
  type VisitsParams,
  type WindowParams,
} from '../protocol/trace.js';
import type { LanguageService } from '../service/languageService.js';
import type { Answerer } from './answer.js';
import { normalUri } from './editorWorkspace.js';
import type { ReadersNumbers } from './readersNumbers.js';

const asText = <T extends { readonly data: Uint8Array }>(packed: T | undefined): (Omit<T, 'data'> & { readonly data: string }) | null =>
  packed ? { ...packed, data: toBase64(packed.data) } : null;

const orNull = <T, R>(value: T | undefined, made: (value: T) => R): R | null => (value === undefined ? null : made(value));

interface Parts {
  readonly connection: Connection;
  readonly service: LanguageService;
  readonly answer: Answerer;
  readonly readers: ReadersNumbers;
}

/** All are asked by URI, in whatever spelling; a file that is no session is answered with null. */
export function serveTrace({ connection, service: { trace }, answer, readers }: Parts): void {
  const serve = <P extends FileParams, R>(method: string, ask: (params: P) => Promise<R | null>): void => {
    connection.onRequest(
      method,
      answer<P, R | null>(
        'Trace',
        ({ uri }) => normalUri(uri),
        (params) => ask({ ...params, uri: normalUri(params.uri) }),
        null,
      ),
    );
  };
  serve<FileParams, unknown>(TRACE.summary, async ({ uri }) => orNull(await trace.summary(uri), readers.summary));
  serve<WindowParams, unknown>(TRACE.window, async (params) => asText(await trace.window(params)));
  serve<SampleParams, unknown>(TRACE.sample, async (params) => orNull(await trace.sample(params), readers.sample));
  serve<SpanParams, unknown>(TRACE.span, async (params) => (await trace.span(params)) ?? null);
  serve<RunsParams, unknown>(TRACE.runs, async (params) =>
    asText(await trace.runs({ ...params, runs: params.runs.map(({ uri, run }) => ({ uri: normalUri(uri), run })) })),
  );
  serve<VisitsParams, unknown>(
    TRACE.visits,
    async (params) =>
      (await trace.visits({ ...params, ...(params.session === undefined ? {} : { session: normalUri(params.session) }) })) ?? null,
  );
  serve<CsvParams, unknown>(TRACE.csv, async (params) => (await trace.csv(params)) ?? null);
}
