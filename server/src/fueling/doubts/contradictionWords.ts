// That sessions contradict each other, in a mechanic's words: one text for the command line and the report, and a short one for a line
// above the table.

import { placeText } from '../../formats/table/placeText.js';
import type { Table } from '../../formats/table/table.js';
import type { Evidence } from '../evidence.js';

/** More sessions than this are not named: those furthest out are. */
const MOST_NAMED = 6;

type Contradicted = Pick<Evidence, 'sessions' | 'cells' | 'contradiction'>;

const CHECK =
  "the lambda sensor's calibration, fuel pressure and pump, the fuel in the tank, the air meter, and whether each log is of this car";

/**
 * `monday.session.csv says +0.2 %, friday.session.csv +19.7 %`: how much more fuel each session wants in a cell, in the order of the
 * sessions; undefined where they do not contradict each other.
 */
export const saidWords = (
  { sessions, cells, contradiction }: Contradicted,
  at: number,
  nameOf: (session: string) => string,
): string | undefined => {
  if (!contradiction?.cells.has(at)) return undefined;
  const said = contradiction.said(at),
    away = (factor: number): number => Math.abs(Math.log(factor / cells[at].factor));
  const named = new Set([...said].sort((a, b) => away(b.factor) - away(a.factor)).slice(0, MOST_NAMED));
  const words = said
    .filter((each) => named.has(each))
    .map(
      ({ session, factor }) =>
        `${nameOf(sessions[session].session)} ${factor >= 1 ? '+' : '−'}${Math.abs(100 * (factor - 1)).toFixed(1)} %`,
    );
  return `${words.join(', ')}${said.length > named.size ? `, ${said.length - named.size} more between them` : ''}`;
};

const inCells = (count: number): string => `in ${count} cell${count === 1 ? '' : 's'}`;

/** What contradicts what and where, and what to check; undefined where no sessions contradict each other. */
export const contradictionWords = (evidence: Contradicted, table: Table, nameOf: (session: string) => string): string | undefined => {
  const { contradiction } = evidence;
  if (!contradiction) return undefined;
  const { row, column } = evidence.cells[contradiction.surest];
  return (
    `The sessions contradict each other ${inCells(contradiction.cells.size)}, by more than drives of a healthy car differ. Fuel wanted at ${placeText(table, row, column)}, in the order of the sessions: ${saidWords(evidence, contradiction.surest, nameOf)}. ` +
    `Which of them is right the readings do not tell, so nothing there is proven or corrected. Something other than the table changed between them; check ${CHECK}. Then weigh those of the car as it is now alone ("sessions" in vehicle.json).`
  );
};

/** Which session contradicts itself and where it does most; undefined where none does. */
export const driftWords = (
  { sessions, cells, drift }: Pick<Evidence, 'sessions' | 'cells' | 'drift'>,
  table: Table,
  nameOf: (session: string) => string,
): string | undefined => {
  if (!drift) return undefined;
  const apart = (at: number): number => Math.abs(Math.log(drift.get(at)!.late / drift.get(at)!.early)),
    most = [...drift.keys()].reduce((best, at) => (apart(at) > apart(best) ? at : best));
  const { session, early, late, isByTurns } = drift.get(most)!,
    { row, column } = cells[most],
    share = (factor: number): string => `${factor >= 1 ? '+' : '−'}${Math.abs(100 * (factor - 1)).toFixed(1)} %`;
  return (
    `${nameOf(sessions[session].session)} contradicts itself${drift.size === 1 ? '' : `, ${inCells(drift.size)}`}: fuel wanted at ${placeText(table, row, column)} is ${share(early)} in ${isByTurns ? 'some passages' : 'its first half'} and ${share(late)} in ${isByTurns ? 'others (nitrous, a second map)' : 'its second'}. ` +
    `Nothing is corrected there: ${isByTurns ? 'log each by itself' : 'check fuel pressure as it warms, battery voltage, fuel and sensor'}.`
  );
};

/** In a line, that of a session that contradicts itself too. */
export const contradictionTitle = ({ contradiction, drift }: Pick<Evidence, 'contradiction' | 'drift'>): string | undefined =>
  [
    ...(contradiction
      ? [
          `The sessions contradict each other ${inCells(contradiction.cells.size)}: check sensor, fuel pressure, fuel, air meter, and whose logs they are`,
        ]
      : []),
    ...(drift ? [`A session contradicts itself ${inCells(drift.size)}: find out what changed on the way`] : []),
  ].join('. ') || undefined;
