// What is asked about a place of a long session, of the thread that read it: plain data in, plain data out, so that nothing is read again for it.

import type { DocumentHighlight } from 'vscode-languageserver-types';
import type { Position } from '../formats/range.js';
import { readTable } from '../formats/readTable.js';
import type { SessionWeight } from '../fueling/evidence.js';
import type { Signals } from '../signals/signals.js';
import type { Card } from './card.js';
import { delaysOf } from './delays.js';
import { documentHighlights } from './documentHighlights.js';
import { sessionHover, type FuelledBy } from './sessionHover.js';

/** The fuel table that the session speaks of, as text, and what weighing found of the session. */
export interface FuelQuestion { readonly name: string; readonly table: string; readonly found?: { readonly transportDelay: SessionWeight['transportDelay']; readonly loggedWith: string } }
export interface SessionQuestion { readonly about: 'hover' | 'lights'; readonly position: Position; readonly fuel?: FuelQuestion }
/** Nothing where there is nothing to say of the place. */
export interface SessionAnswer { readonly card?: Card; readonly lights?: readonly DocumentHighlight[] }
/** Rejects where the session is no longer at hand. */
export type AskSession = (question: SessionQuestion) => Promise<SessionAnswer>;

/** Answers for one session; what a question says of the fuel table is worked out once. */
export function answersOf(signals: Signals): (question: SessionQuestion) => SessionAnswer {
  let said: string | undefined, fuelledBy: FuelledBy | undefined;
  return ({ about, position, fuel }) => {
    if (about === 'lights') return { lights: documentHighlights.session(signals, position) };
    const says = JSON.stringify(fuel);
    if (says !== said) fuelledBy = fuel && fuelledByOf(signals, fuel);
    said = says;
    const card = sessionHover(signals, position, fuelledBy);
    return card ? { card } : {};
  };
}

function fuelledByOf(signals: Signals, { name, table: text, found }: FuelQuestion): FuelledBy {
  const table = readTable(text);
  return { name, table, delays: delaysOf(signals, found && { transportDelay: found.transportDelay, table, loggedWith: readTable(found.loggedWith) }) };
}
