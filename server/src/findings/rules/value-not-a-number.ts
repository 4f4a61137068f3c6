// value-not-a-number: a cell of a session or table that should hold a number and does not.

import type { Rule } from '../finding.js';
import { sessionProblemFindings } from '../sessionProblems.js';
import { tableProblemFindings } from '../tableProblems.js';

const HEAD = '=== a.session.csv\nTime (s),Engine speed (rpm),Manifold pressure (kPa),Lambda\n';

export const rule: Rule = {
  code: 'value-not-a-number',
  docs: {
    title: 'Not a number',
    meaning:
      'A cell that should hold a reading holds something else. It counts as no reading (in a table: as a blank cell), so the moment or the cell is not judged.',
    computed:
      'A number is digits with one decimal point (or a decimal comma where cells are not separated by commas, or it stands in quotes and no number has a point), a sign and an exponent. Signs or blanks between thousands are read where the number can be no other ("1.002,0", "1 020"), in speeds and manifold pressures by the whole column too ("2.746" beside "0,95"). Where cells are separated by commas, a cell such as "2,028" is read with its thousands sign if all such cells of the column fit and the file writes decimals with a point. Words for "nothing read" (nan, n/a, -, null) count as ' +
      'blank and are told once. An error where no cell of engine speed, load or lambda is a number. Neighbouring rows with the same trouble in one column make one finding. A text in a column of which nothing is known is no trouble where the column is all texts. ' +
      'In a raw CAN capture, a line that is no frame is told here.',
    causes: [
      'The logger wrote an error text instead of a reading',
      'Two rows ran into each other when a file was joined or cut',
      'A decimal comma in a file with commas between the cells',
      'A quote that never closes',
    ],
    checkFirst: 'Look at the row in the text: is one cell wrong, or is everything after it shifted?',
    limits: [],
  },
  sample: () => ({
    firing: `${HEAD}0,900,35,1.0\n0.1,910,err,1.0\n0.2,915,36,1.01\n`,
    quiet: `${HEAD}0,900,35,1.0\n0.1,910,,1.0\n0.2,915,3.6e1,1.01\n`,
  }),
  session: ({ session }) => sessionProblemFindings('value-not-a-number', session),
  table: ({ table }) => tableProblemFindings('value-not-a-number', table),
};
