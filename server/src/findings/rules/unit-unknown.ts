// unit-unknown: a channel or axis whose unit is missing, not known or does not fit, and what is assumed instead.

import type { Rule } from '../finding.js';
import { sessionProblemFindings } from '../sessionProblems.js';
import { tableProblemFindings } from '../tableProblems.js';
import { timeScaleFindings } from '../timeScale.js';

export const rule: Rule = {
  code: 'unit-unknown',
  concerns: 'readings',
  docs: {
    title: 'Unit not known',
    meaning:
      'Nothing says what a column is counted in. A unit is assumed so that the file can be read, but a wrong one makes every number of that channel wrong.',
    computed:
      'The unit stands in brackets behind the name or in a row of units below the header. Where it is missing or not known, the usual unit of the quantity is assumed and told. A mixture column ' +
      'whose middle reading is between 7 and 25 is taken as an air-fuel ratio. A column in a unit that cannot measure its quantity (volts for lambda) is not used. Gauge pressures are made absolute with the ' +
      'logged barometer, else with 101.325 kPa, and that is told. ' +
      'A manifold pressure in a plain kPa, bar or psi that goes below zero (by more than 2 kPa, in 5 % of its readings) cannot be absolute and is read as gauge. ' +
      "A time without a unit may be in milliseconds, or a spreadsheet's days. Rows faster than 0.5 ms or slower than 5 s without a date are an error.",
    causes: [
      'The logger leaves units out',
      'An abbreviation that is not in use',
      'A raw sensor voltage logged under the name of what it measures',
      'A degree sign lost in another encoding',
    ],
    checkFirst:
      'Compare one reading that you know, such as the coolant temperature of a cold engine or the manifold pressure before the start.',
    limits: [],
  },
  sample: () => ({
    firing: '=== a.session.csv\nTime (s),Engine speed (rpm),Manifold pressure (),Lambda\n0,900,35,1.0\n0.1,905,35,1.0\n',
    quiet: '=== a.session.csv\nTime,Engine speed,Manifold pressure,Lambda\ns,rpm,kPa,λ\n0,900,35,1.0\n0.1,905,35,1.0\n',
  }),
  session: (signals) => [...timeScaleFindings(signals), ...sessionProblemFindings('unit-unknown', signals.session)],
  table: ({ table }) => tableProblemFindings('unit-unknown', table),
};
