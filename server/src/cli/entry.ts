// Where the one program begins: the command line and the language server on Node, a thread that works on sessions, or the language server in a browser's worker.

if ('importScripts' in globalThis) void import('../lsp/worker.js').then(({ serveWorker }) => serveWorker());
else void import('node:worker_threads').then(({ isMainThread }) => (isMainThread ? import('./main.js') : import('../disk/sessionThread.js')));
