// The compiler kept from what does not repay it: most that goes over the rows of a session does so once, and by Node's own measure two
// fifths of a check were spent on compiling it.

import { setFlagsFromString } from 'node:v8';

/**
 * A function is compiled for speed after a few times so much of its code was run: three times Node's own. Measured with Node 20 over
 * sessions of 20 to 400 thousand rows.
 */
const HOT_BYTES = 400_000;
/** And takes in no more than this of what it calls, a fifth of Node's own. Measured likewise. */
const TAKEN_IN_BYTES = 200;

/**
 * For the whole process, threads that are begun later among it, and not before its program is loaded: what was compiled beforehand, of Node
 * itself too, holds for Node's own measure alone, and so says nothing of it where it is told on Node's command line. A desktop editor's own
 * Node may end where it is told so late, and is left alone. So are later ones than Node 20: they compile in more steps, and a measure that
 * they no longer have they would tell the user of.
 */
export const compileLate = (): void => {
  if ('electron' in process.versions || !process.versions.v8.startsWith('11.')) return;
  for (const flag of [`--interrupt-budget=${HOT_BYTES}`, `--max-inlined-bytecode-size-cumulative=${TAKEN_IN_BYTES}`])
    setFlagsFromString(flag);
};
