// A line above each pull with its worst moment, and above a table with what the sessions say of it and what can be done about it.

import type { CodeLens } from 'vscode-languageserver-types';
import { range } from '../../formats/range.js';
import type { Table } from '../../formats/table/table.js';
import { DEFAULT_MAX_CHANGE_PERCENT } from '../../fueling/change/correct.js';
import type { Evidence } from '../../fueling/evidence.js';
import { contradictionTitle } from '../../fueling/doubts/contradictionWords.js';
import { commonCause, commonCauseTitle } from '../../fueling/doubts/commonCause.js';
import { COMMANDS, type CorrectParams, type PlaceParams } from '../../protocol/messages.js';
import type { Signals } from '../../signals/signals.js';
import { sessionsText } from './codeActions.js';
import { cellEdits } from '../correction.js';
import { pullWords } from './documentSymbols.js';

export interface LensOptions {
  /** The client has the commands of `COMMANDS`: without them nothing happens on a click, and only what is to be read is shown. */
  readonly commands?: boolean;
  /** The most that one step may change a cell. */
  readonly maxChangePercent?: number;
}

export interface LensSubject {
  readonly uri: string;
  readonly table: Table;
  readonly text: string;
  /** Undefined: the table is not one that sessions speak of, and nothing is said. */
  readonly evidence: Evidence | undefined;
  /** How many sessions are held to an earlier state of the table. */
  readonly held: number;
}

const lens = (line: number, title: string, command = '', argument?: CorrectParams | PlaceParams): CodeLens => ({
  range: range(line, 0, line, 0),
  command: { title, command, ...(argument ? { arguments: [argument] } : {}) },
});

/** A click goes to the pull's worst moment. */
export const sessionLenses = (signals: Signals, uri: string, { commands = false }: LensOptions): CodeLens[] =>
  signals.pulls.map((pull, index) => {
    const { places } = signals.session;
    const title = `Pull ${index + 1}: ${pullWords(signals, pull)}`;
    const line = places.lineOf(pull.from);
    return commands && pull.worstAt !== undefined
      ? lens(line, title, COMMANDS.showPlace, { uri, line: places.lineOf(pull.worstAt) })
      : lens(line, title);
  });

/** Call-outs made with commands, for whoever may have none of them. */
export const asWanted = (lenses: CodeLens[] | undefined, { commands = false }: LensOptions): CodeLens[] | undefined =>
  commands ? lenses : lenses?.map(({ range: { start }, command }) => lens(start.line, command!.title));

export function tableLenses(
  { uri, table, text, evidence, held }: LensSubject,
  { commands = false, maxChangePercent = DEFAULT_MAX_CHANGE_PERCENT }: LensOptions,
): CodeLens[] {
  if (!evidence) return [];
  const { line } = table.headRange.start;
  if (evidence.sessions.length === 0) return [lens(line, 'No sessions to judge this table by')];
  const used = evidence.sessions.reduce((sum, session) => sum + session.used, 0);
  const count = (proof: string): number => evidence.cells.filter((cell) => cell.proof === proof).length;
  const lenses = [
    lens(
      line,
      `${sessionsText(evidence.sessions.length)}, ${used} samples: ${count('firm')} of ${evidence.cells.length} cells proven, ${count('thin')} with thin evidence`,
    ),
  ];
  const contradiction = contradictionTitle(evidence);
  if (contradiction !== undefined) lenses.push(lens(line, contradiction));
  const cause = commonCause(table, evidence);
  if (cause) lenses.push(lens(line, commonCauseTitle(cause)));
  if (!commands) return lenses;
  const { edits } = cellEdits(table, text, evidence, { maxChangePercent });
  if (edits.length > 0)
    lenses.push(
      lens(line, `Correct ${edits.length} proven cell${edits.length === 1 ? '' : 's'}`, COMMANDS.correctTable, { uri, kind: 'all' }),
    );
  if (held > 0)
    lenses.push(
      lens(
        line,
        `Edited by hand: keep the table that ${sessionsText(held)} ${held === 1 ? 'was' : 'were'} logged with`,
        COMMANDS.correctTable,
        { uri, kind: 'keep' },
      ),
    );
  return lenses;
}
