// What is asked about a place of a long session, of the thread that read it: plain data in, plain data out, so that nothing is read again for it.

import type { DocumentHighlight, LocationLink, SelectionRange } from 'vscode-languageserver-types';
import type { Position } from '../formats/range.js';
import { readTable } from '../formats/readTable.js';
import type { SessionWeight } from '../fueling/evidence.js';
import type { Signals } from '../signals/signals.js';
import type { Card } from './card.js';
import { sessionDefinition } from './definition.js';
import { delaysOf } from './delays.js';
import { documentHighlights } from './documentHighlights.js';
import { selectionRanges } from './selectionRanges.js';
import { sessionHover, type FuelledBy } from './sessionHover.js';

/** The fuel table that the session speaks of, as text, and what weighing found of the session. */
export interface FuelQuestion { readonly name: string; readonly uri: string; readonly table: string; readonly found?: { readonly transportDelay: SessionWeight['transportDelay']; readonly loggedWith: string } }
export interface SessionQuestion { readonly about: 'hover' | 'definition' | 'lights' | 'ranges'; readonly position: Position; readonly fuel?: FuelQuestion }
/** Nothing where there is nothing to say of the place. */
export interface SessionAnswer { readonly card?: Card; readonly lights?: readonly DocumentHighlight[]; readonly links?: readonly LocationLink[]; readonly ranges?: SelectionRange }
/** Rejects where the session is no longer at hand. */
export type AskSession = (question: SessionQuestion) => Promise<SessionAnswer>;

/** Answers for one session; what a question says of the fuel table is worked out once. */
export function answersOf(signals: Signals): (question: SessionQuestion) => SessionAnswer {
  let said: string | undefined, fuelledBy: FuelledBy | undefined;
  return ({ about, position, fuel }) => {
    if (about === 'lights') return { lights: documentHighlights.session(signals, position) };
    if (about === 'ranges') return { ranges: selectionRanges.session(signals, [position])[0] };
    const says = JSON.stringify(fuel);
    if (says !== said) fuelledBy = fuel && fuelledByOf(signals, fuel);
    said = says;
    if (about === 'definition') return { links: fuel && fuelledBy ? sessionDefinition(signals, position, fuelledBy.table, fuel.uri, fuelledBy.delays) : [] };
    const card = sessionHover(signals, position, fuelledBy);
    return card ? { card } : {};
  };
}

function fuelledByOf(signals: Signals, { name, table: text, found }: FuelQuestion): FuelledBy {
  const table = readTable(text);
  return { name, table, delays: delaysOf(signals, found && { transportDelay: found.transportDelay, table, loggedWith: readTable(found.loggedWith) }) };
}
