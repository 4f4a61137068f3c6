// Where the program of the command line begins: the command line, or one of its threads that work on sessions.

import { isMainThread } from 'node:worker_threads';

void (isMainThread ? import('./main.js') : import('../disk/sessionThread.js'));
