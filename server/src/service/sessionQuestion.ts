// What is asked of a session that was read: each answer plain data from plain data, so that it can be given where the session is at hand,
// on whichever thread, and nothing is read again for it.

import type { DocumentHighlight, LocationLink, SelectionRange } from 'vscode-languageserver-types';
import type { Position } from '../formats/range.js';
import { readTable } from '../formats/table/readTable.js';
import type { SessionWeight } from '../fueling/evidence.js';
import type { Signals } from '../signals/signals.js';
import type { Card } from './editor/card.js';
import { sessionDefinition } from './editor/definition.js';
import { delaysOf } from './delays.js';
import { documentHighlights } from './editor/documentHighlights.js';
import { recordingsOf } from './views/recordings.js';
import { selectionRanges } from './editor/selectionRanges.js';
import { sessionFacts } from './sessionFacts.js';
import { sessionHover, type FuelledBy } from './editor/sessionHover.js';
import { dutyOnGrid, wayOf, type WayQuestion } from './views/sessionOnTable.js';
import {
  pictureOf,
  rowsText,
  sampleOf,
  spanOf,
  visitsOf,
  windowOf,
  type RowsQuestion,
  type SampleQuestion,
  type SpanQuestion,
  type VisitsQuestion,
  type WindowQuestion,
} from './views/traceAnswers.js';
import { runOf, type RunQuestion } from './views/traceRuns.js';

/** The fuel table that the session speaks of, as text, and what weighing found of the session. */
export interface FuelQuestion {
  readonly name: string;
  readonly uri: string;
  readonly table: string;
  readonly found?: { readonly transportDelay: SessionWeight['transportDelay']; readonly loggedWith: string };
}
export interface PlaceQuestion {
  readonly position: Position;
  readonly fuel?: FuelQuestion;
}
/** Of a place. Nothing where there is nothing to say of it. */
export interface PlaceAnswer {
  readonly card?: Card;
  readonly lights?: readonly DocumentHighlight[];
  readonly links?: readonly LocationLink[];
  readonly ranges?: SelectionRange;
}
/** With what weighing found of the session. */
type Fuelled<Question> = Omit<Question, 'delaysS'> & { readonly fuel?: FuelQuestion };

const delaysBy = (signals: Signals, fuel: FuelQuestion | undefined): Float64Array =>
  (fuel ? fuelledBy(signals, fuel).delays : delaysOf(signals)).delaysS;

const QUESTIONS = {
  hover: (signals: Signals, { position, fuel }: PlaceQuestion): PlaceAnswer => {
    const card = sessionHover(signals, position, fuel && fuelledBy(signals, fuel));
    return card ? { card } : {};
  },
  definition(signals: Signals, { position, fuel }: PlaceQuestion): PlaceAnswer {
    const by = fuel && fuelledBy(signals, fuel);
    return { links: by ? sessionDefinition(signals, position, by.table, fuel.uri, by.delays) : [] };
  },
  lights: (signals: Signals, { position }: PlaceQuestion): PlaceAnswer => ({ lights: documentHighlights.session(signals, position) }),
  ranges: (signals: Signals, { position }: PlaceQuestion): PlaceAnswer => ({ ranges: selectionRanges.session(signals, [position])[0] }),
  recordings: (signals: Signals, _: null) => recordingsOf(signals),
  /** Names of its channels, each with whether it is recognised as it is. */
  channels: ({ session: { channels } }: Signals, _: null) => channels.map(({ name, quantity }) => [name, quantity !== undefined] as const),
  joined: ({ session: { joined } }: Signals, _: null) => joined,
  /** For a report; with the fuel table's text, where there is one. */
  facts: (signals: Signals, table: string | null) => sessionFacts(signals, table === null ? undefined : readTable(table)),
  picture: (signals: Signals, _: null) => pictureOf(signals),
  window: (signals: Signals, question: WindowQuestion) => windowOf(signals, question),
  span: (signals: Signals, question: SpanQuestion) => spanOf(signals, question),
  rows: (signals: Signals, question: RowsQuestion) => rowsText(signals, question),
  sample(signals: Signals, { fuel, ...question }: Fuelled<SampleQuestion>) {
    const by = fuel && fuelledBy(signals, fuel);
    return sampleOf(signals, question, by && { ...by, uri: fuel.uri });
  },
  run: (signals: Signals, { fuel, ...question }: Fuelled<RunQuestion>) => runOf(signals, { ...question, delaysS: delaysBy(signals, fuel) }),
  visits: (signals: Signals, { fuel, ...question }: Fuelled<VisitsQuestion>) =>
    visitsOf(signals, { ...question, delaysS: delaysBy(signals, fuel) }),
  way: (signals: Signals, { fuel, ...question }: Fuelled<WayQuestion>) => wayOf(signals, { ...question, delaysS: delaysBy(signals, fuel) }),
  /** Highest injector duty by cell of a table. */
  duty: (signals: Signals, table: string) => dutyOnGrid(signals, readTable(table)),
};

export type About = keyof typeof QUESTIONS;
export type AboutPlace = 'hover' | 'definition' | 'lights' | 'ranges';
export type Asked<A extends About> = Parameters<(typeof QUESTIONS)[A]>[1];
export type Said<A extends About> = ReturnType<(typeof QUESTIONS)[A]>;
/** Survives a structured clone, as what is said to it does. */
export interface SessionQuestion<A extends About = About> {
  readonly about: A;
  readonly asked: Asked<A>;
}
/** Rejects where the session is no longer at hand. */
export type AskSession = <A extends About>(about: A, asked: Asked<A>) => Promise<Said<A>>;

export const answerOf = <A extends About>(signals: Signals, { about, asked }: SessionQuestion<A>): Said<A> =>
  QUESTIONS[about](signals, asked as never) as Said<A>;

/** What a question says of the fuel table is worked out once. */
const known = new WeakMap<Signals, { readonly says: string; readonly by: FuelledBy }>();

function fuelledBy(signals: Signals, fuel: FuelQuestion): FuelledBy {
  const says = JSON.stringify(fuel),
    last = known.get(signals);
  if (last?.says === says) return last.by;
  const { name, table: text, found } = fuel,
    table = readTable(text);
  const by = {
    name,
    table,
    delays: delaysOf(signals, found && { transportDelay: found.transportDelay, table, loggedWith: readTable(found.loggedWith) }),
  };
  known.set(signals, { says, by });
  return by;
}
