// A program that saves two texts in turn over one file, forever: `saveForever FILE`. It is there to be killed.

import { writeBytes } from '../../server/src/disk/writeFile.js';
import { savedBytes } from './savedBytes.js';

const file = process.argv[2]!;
process.stdout.write('saving\n');
for (let turn = 0; ; turn++) writeBytes(file, savedBytes(turn % 2), { isNew: false });
