// How a request is answered: other messages first, nothing stale, nothing for nobody, and a failure is logged and costs one answer only.

import { LSPErrorCodes, ResponseError, type CancellationToken, type Connection } from 'vscode-languageserver';
import type { EditorWorkspace } from './editorWorkspace.js';

/** Lets waiting messages (an edit, a cancel) in before long work. */
export const breathe = (): Promise<void> => new Promise((resolve) => { setImmediate(resolve); });

export type Answerer = <P, R>(
  what: string, uriOf: (params: P) => string | undefined, answer: (params: P, token: CancellationToken) => Promise<R>, otherwise: R,
) => (params: P, token: CancellationToken) => Promise<R>;

/**
 * Makes handlers. Cancelled requests are answered `RequestCancelled`; where the file was edited meanwhile, `ContentModified`;
 * where the work fails, the failure goes to the log and `otherwise` to the client.
 */
export function answerer(connection: Connection, workspace: EditorWorkspace): Answerer {
  return (what, uriOf, answer, otherwise) => async (params, token) => {
    const uri = uriOf(params);
    const version = uri === undefined ? undefined : workspace.document(uri)?.version;
    await breathe();
    if (token.isCancellationRequested) throw new ResponseError(LSPErrorCodes.RequestCancelled, `${what}: cancelled`);
    let result;
    try {
      result = await answer(params, token);
    } catch (error) {
      if (error instanceof ResponseError) throw error;
      connection.console.error(`${what} failed${uri === undefined ? '' : ` for ${uri}`}: ${error instanceof Error ? error.stack ?? error.message : String(error)}`);
      return otherwise;
    }
    if (token.isCancellationRequested) throw new ResponseError(LSPErrorCodes.RequestCancelled, `${what}: cancelled`);
    if (uri !== undefined && workspace.document(uri)?.version !== version) throw new ResponseError(LSPErrorCodes.ContentModified, `${what}: the file was edited meanwhile`);
    return result;
  };
}
