// Why readings are no evidence, in a mechanic's words: one list for the command line, the findings and the report.

import type { Table } from '../../formats/table/table.js';
import { QUANTITIES } from '../../quantities/quantity.js';
import type { LeftOut, SessionWeight } from '../evidence.js';

export const LEFT_OUT_WORDS: Readonly<Record<LeftOut, string>> = {
  transient: 'load or speed changing too fast (or a recording just begun)',
  overrun: 'overrun',
  'cold-engine': 'engine cold',
  'sensor-fault': 'a sensor not to be believed',
  'engine-off': 'engine off',
  'no-target': 'no target known (log it, or name its table in vehicle.json)',
  'no-lambda': 'no lambda reading',
  'after-fuel-cut': 'just after a fuel cut',
  launch: 'held at a standstill with the throttle open',
  'outside-axes': 'outside the table',
  'delay-unproven': 'transport delay not certain enough',
  'sensor-mount': 'sensor behind the catalyst or in the tailpipe',
  'closed-loop-unknown': 'trims standing still: not known whether the loop was closed',
  misfire: 'a misfire suspected (a cylinder that does not fire or gets no fuel)',
  'banks-apart': 'banks too far apart for one table (a cylinder, an injector or a sensor at fault)',
  knock: 'knock beyond its error limit',
  'fuel-pressure': 'fuel pressure fallen beyond its error limit',
  'injector-duty': 'injectors at the end of their duty',
  'hot-air': 'intake air too hot under load',
  'columns-not-logged': "what the table's columns count in is not in the log",
  'rows-not-logged': "what the table's rows count in is not in the log",
  'same-readings': 'the same readings as another session, counted once',
};

/** The same of a table, where its axis can be named. */
export const leftOutWords = (why: LeftOut, table: Pick<Table, 'columns' | 'rows'>): string => {
  const along = why === 'columns-not-logged' ? 'columns' : why === 'rows-not-logged' ? 'rows' : undefined,
    quantity = along && table[along].quantity;
  return quantity ? `${QUANTITIES[quantity].title}, which the table's ${along} count in, is not in the log` : LEFT_OUT_WORDS[why];
};

/** Left out because the engine was in distress: what is behind that comes before the table. */
const DISTRESS: readonly LeftOut[] = ['misfire', 'banks-apart', 'knock', 'fuel-pressure', 'injector-duty', 'hot-air'];

/** What has to be found before a table of these sessions is changed, a sentence or none. */
export const causeFirst = (sessions: readonly Pick<SessionWeight, 'leftOut'>[]): readonly string[] => {
  const seen = DISTRESS.filter((why) => sessions.some(({ leftOut }) => (leftOut[why] ?? 0) > 0));
  return seen.length === 0
    ? []
    : [
        `First find the cause of what some readings were left out for: ${seen.map((why) => LEFT_OUT_WORDS[why]).join(', ')}. No table cures that.`,
      ];
};
