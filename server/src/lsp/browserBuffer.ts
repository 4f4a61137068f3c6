// Node's Buffer for a browser's worker: the reader of quoted records is written with it. Imported before anything that uses it.

import { Buffer } from 'buffer/';

if (!('Buffer' in globalThis)) Object.assign(globalThis, { Buffer });
