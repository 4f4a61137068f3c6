// The language server as a program of its own, for the packaged extension: it needs no other command of the command line.

import { serveStdio } from './main.js';

serveStdio();
