// Where the server's program begins: the language server on Node or in a browser's worker, or a thread that works on sessions.

async function begin(): Promise<void> {
  if ('importScripts' in globalThis) return (await import('./worker.js')).serveWorker();
  if (!(await import('node:worker_threads')).isMainThread) await import('../disk/sessionThread.js');
  else {
    // The thread that stands ready loads while this one does.
    const threads = (await import('../disk/sessionThreads.js')).threadsOfServer();
    (await import('./main.js')).serveStdio(threads);
  }
}

void begin();
