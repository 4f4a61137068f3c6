// Why readings are no evidence, in a mechanic's words: one list for the command line, the findings and the report.

import type { LeftOut } from './evidence.js';

export const LEFT_OUT_WORDS: Readonly<Record<LeftOut, string>> = {
  transient: 'load or speed changing too fast (or a recording just begun)', overrun: 'overrun', 'cold-engine': 'engine cold', 'sensor-fault': 'a sensor not to be believed', 'engine-off': 'engine off',
  'no-target': 'no target known', 'no-lambda': 'no lambda reading', 'after-fuel-cut': 'just after a fuel cut', 'outside-axes': 'outside the table',
  'delay-unproven': 'transport delay not certain enough', 'sensor-mount': 'sensor behind the catalyst or in the tailpipe', 'closed-loop-unknown': 'trims standing still: not known whether the loop was closed',
  knock: 'knock beyond its error limit', 'fuel-pressure': 'fuel pressure fallen beyond its error limit', 'injector-duty': 'injectors at the end of their duty', 'hot-air': 'intake air too hot under load',
  'same-readings': 'the same readings as another session, counted once',
};
