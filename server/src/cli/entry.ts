// Where the program of the command line begins: the command line, or one of its threads that work on sessions.

import { isMainThread } from 'node:worker_threads';

if (isMainThread) void import('./main.js');
else
  void import('../disk/sessionThread.js').then(({ serveThread }) => {
    serveThread();
  });
