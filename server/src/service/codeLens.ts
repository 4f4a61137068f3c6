// A line above each pull with its worst moment, and above a table with what the sessions say of it.

import type { CodeLens } from 'vscode-languageserver-types';
import { range } from '../formats/range.js';
import type { Table } from '../formats/table.js';
import type { Evidence } from '../fueling/evidence.js';
import type { Signals } from '../signals/signals.js';
import { pullWords } from './documentSymbols.js';

/** Nothing happens on a click: the words are what is wanted. */
const said = (line: number, title: string): CodeLens => ({ range: range(line, 0, line, 0), command: { title, command: '' } });

export const sessionLenses = (signals: Signals): CodeLens[] =>
  signals.pulls.map((pull, index) => said(signals.session.places.lineOf(pull.from), `Pull ${index + 1}: ${pullWords(signals, pull)}`));

/** Undefined evidence: the table is not one that sessions speak of, and nothing is said. */
export function tableLenses(table: Table, evidence: Evidence | undefined): CodeLens[] {
  if (!evidence) return [];
  const line = table.headRange.start.line;
  if (evidence.sessions.length === 0) return [said(line, 'No sessions to judge this table by')];
  const used = evidence.sessions.reduce((sum, session) => sum + session.used, 0);
  const proven = evidence.cells.filter(({ proof }) => proof === 'firm').length;
  const thin = evidence.cells.filter(({ proof }) => proof === 'thin').length;
  const sessions = `${evidence.sessions.length} session${evidence.sessions.length === 1 ? '' : 's'}`;
  return [said(line, `${sessions}, ${used} samples: ${proven} of ${evidence.cells.length} cells proven, ${thin} with thin evidence`)];
}
