// Where the one program begins: the command line and the language server on Node, a thread that works on sessions, or the language server in a browser's worker.

/** Filled in by the bundler: the editor's package carries the server alone, for of the command line it needs nothing. */
declare const LEANSPOT_SERVER_ALONE: boolean;

async function begin(): Promise<void> {
  if ('importScripts' in globalThis) return (await import('../lsp/worker.js')).serveWorker();
  if (!(await import('node:worker_threads')).isMainThread) await import('../disk/sessionThread.js');
  else if (LEANSPOT_SERVER_ALONE) (await import('../lsp/main.js')).serveStdio();
  else await import('./main.js');
}

void begin();
