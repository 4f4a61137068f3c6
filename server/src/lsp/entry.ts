// Where the server's program begins: the language server on Node or in a browser's worker, or a thread that works on sessions. One piece,
// of which only the protocol's library and the disk's are loaded where they are wanted: bundled, whatever is loaded so is wrapped with all
// that it takes in, and compiled in two steps.

import './browserBuffer.js';
import { isMainThread } from 'node:worker_threads';
import { serveThread } from '../disk/sessionThread.js';
import { threadsOfServer } from '../disk/sessionThreads.js';
import { serveStdio } from './main.js';
import { serveWorker } from './worker.js';

if ('importScripts' in globalThis) void serveWorker();
else if (isMainThread) void serveStdio(threadsOfServer());
else serveThread();
