// The requests of the trace view: the service asked, numbers put in base64 for their way through JSON.

import type { Connection } from 'vscode-languageserver';
import { toBase64 } from '../protocol/base64.js';
import { TRACE, type CsvParams, type FileParams, type RunsParams, type SampleParams, type SpanParams, type VisitsParams, type WindowParams } from '../protocol/trace.js';
import type { LanguageService } from '../service/languageService.js';
import type { Answerer } from './answer.js';
import { normalUri } from './editorWorkspace.js';

const asText = <T extends { readonly data: Uint8Array }>(packed: T | undefined): (Omit<T, 'data'> & { readonly data: string }) | null =>
  (packed ? { ...packed, data: toBase64(packed.data) } : null);

/** All are asked by URI, in whatever spelling; a file that is no session is answered with null. */
export function serveTrace({ connection, service: { trace }, answer }: { readonly connection: Connection; readonly service: LanguageService; readonly answer: Answerer }): void {
  const serve = <P extends FileParams, R>(method: string, ask: (params: P) => Promise<R | null>): void => {
    connection.onRequest(method, answer<P, R | null>('Trace', ({ uri }) => normalUri(uri), (params) => ask({ ...params, uri: normalUri(params.uri) }), null));
  };
  serve<FileParams, unknown>(TRACE.summary, async ({ uri }) => await trace.summary(uri) ?? null);
  serve<WindowParams, unknown>(TRACE.window, async (params) => asText(await trace.window(params)));
  serve<SampleParams, unknown>(TRACE.sample, async (params) => await trace.sample(params) ?? null);
  serve<SpanParams, unknown>(TRACE.span, async (params) => await trace.span(params) ?? null);
  serve<RunsParams, unknown>(TRACE.runs, async (params) =>
    asText(await trace.runs({ ...params, runs: params.runs.map(({ uri, run }) => ({ uri: normalUri(uri), run })) })));
  serve<VisitsParams, unknown>(TRACE.visits, async (params) =>
    await trace.visits({ ...params, ...(params.session === undefined ? {} : { session: normalUri(params.session) }) }) ?? null);
  serve<CsvParams, unknown>(TRACE.csv, async (params) => await trace.csv(params) ?? null);
}
