// row-ragged: a row with fewer or more cells than the header, or one that was cut off.

import type { Rule } from '../finding.js';
import { sessionProblemFindings } from '../sessionProblems.js';
import { tableProblemFindings } from '../tableProblems.js';

const HEAD = '=== a.session.csv\nTime (s),Engine speed (rpm),Manifold pressure (kPa),Lambda\n';

export const rule: Rule = {
  code: 'row-ragged',
  docs: {
    title: 'Row of the wrong length',
    meaning:
      'A row has another number of cells than the header. With too many, readings may stand under the wrong name; with too few, some are missing.',
    computed:
      "Cells of each row are counted against the header. A blank cell behind the last one (a delimiter at the line's end) does not count. Neighbouring rows of the wrong length make one finding. " +
      'A last row that stops in the middle is read up to its last whole cell. ' +
      'In a raw CAN capture, an answer of which a frame is missing (ISO 15765-2) or that is shorter than SAE J1979 says is told here; nothing is made up for it.',
    causes: [
      'The logger lost power while it wrote',
      'A decimal comma in a file with commas between the cells',
      'Two files with different channels joined into one',
      'A line lost in a copy over a bad link',
    ],
    checkFirst: 'Count the cells of the first such row against the header.',
    limits: [],
  },
  sample: () => ({
    firing: `${HEAD}0,900,35,1.0\n0.1,910,36,1,01\n0.2,915,36,1.01\n`,
    quiet: `${HEAD}0,900,35,1.0,\n0.1,910,36,1.01,\n0.2,915,36,1.01,\n`,
  }),
  session: ({ session }) => sessionProblemFindings('row-ragged', session),
  table: ({ table }) => tableProblemFindings('row-ragged', table),
};
