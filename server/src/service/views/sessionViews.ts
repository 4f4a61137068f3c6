// What the editor shows around a session's text without being asked: outline, folds, call-outs and tokens. Of a long session they are made
// on the other thread with the findings, and carried along while somebody types, as those are; and what is said of a place is asked of that
// thread.

import type { CodeLens, DocumentSymbol, FoldingRange, LocationLink, SelectionRange } from 'vscode-languageserver-types';
import { range, type Position, type Range } from '../../formats/range.js';
import type { Signals } from '../../signals/signals.js';
import type { PlaceParams } from '../../protocol/messages.js';
import { sessionLenses } from '../editor/codeLens.js';
import { createCache } from '../cache.js';
import type { Documents } from '../documents.js';
import { sessionSymbols } from '../editor/documentSymbols.js';
import { movedLine, movedRange, placeBefore, type Edit } from '../followEdits.js';
import { sessionFolding } from '../editor/foldingRanges.js';
import { MOST_TOKENS, sessionTokens, type Token } from '../editor/semanticTokens.js';
import type { FuelOf } from '../fuelOf.js';
import type { AboutPlace, AskSession, PlaceAnswer } from '../sessionQuestion.js';
import type { Workspace } from '../workspace.js';

export interface SessionViews {
  readonly symbols: DocumentSymbol[];
  readonly folds: FoldingRange[];
  /** With the commands that a click runs. */
  readonly lenses: CodeLens[];
  /** Of the whole text; undefined where they are too many for one answer. */
  readonly tokens: Token[] | undefined;
}

/** The views of a session as they stand at that stamp of its file, under that key; `read` answers questions about it as it was read. */
export interface MadeViews {
  readonly key: string;
  readonly stamp: string;
  readonly views: Promise<SessionViews>;
  readonly read?: { readonly stamp: string; readonly key: string; readonly ask: AskSession };
}

export function viewsOf(signals: Signals, uri: string): SessionViews {
  const tokens = sessionTokens(signals);
  signals.between();
  const symbols = sessionSymbols(signals);
  signals.between();
  return {
    symbols,
    folds: sessionFolding(signals),
    lenses: sessionLenses(signals, uri, { commands: true }),
    tokens: tokens.length < MOST_TOKENS ? tokens : undefined,
  };
}

/**
 * A long open session as it is known elsewhere, after `check` had it read; undefined where nothing of it is, or its samples are in memory
 * here.
 */
export interface ElsewhereViews {
  views(uri: string): Promise<SessionViews | undefined>;
  /** What is said of a place, its ranges as the text stands; nothing on a row that was typed in since. */
  ask(uri: string, about: AboutPlace, position: Position): Promise<PlaceAnswer | undefined>;
}

const MOST_MAKING = 20;

export function createSessionViews(
  workspace: Workspace,
  documents: Documents,
  check: (uri: string) => Promise<unknown>,
  fuelOf: FuelOf,
): ElsewhereViews {
  const making = createCache<unknown>(MOST_MAKING);
  const made = async (uri: string): Promise<MadeViews | undefined> => {
    if (!(await documents.isElsewhere(uri))) return undefined;
    await check(uri);
    const key = await documents.signalsKey(uri),
      last = documents.views(uri);
    if (key === undefined || (last && (last.key === key || workspace.edited?.(uri, last.stamp)))) return last;
    // What was found of the file when it was not open holds, but nothing was shown of it.
    await making.get(uri, key, () => documents.elsewhere(uri, async () => undefined));
    return documents.views(uri);
  };
  const ask = async (uri: string, about: AboutPlace, position: Position, isAgain = false): Promise<PlaceAnswer | undefined> => {
    const read = (await made(uri))?.read,
      fuel = read && (about === 'hover' || about === 'definition') ? await fuelOf(uri) : {};
    const edits = read && (read.stamp === (await workspace.stamp(uri)) ? [] : workspace.edited?.(uri, read.stamp)?.edits);
    if (!read || !edits) return undefined;
    const before = placeBefore(position, edits);
    if (!before) return {};
    const now = <T extends { readonly range: Range }>(each: T): T[] => {
      const moved = movedRange(each.range, edits);
      return moved ? [{ ...each, range: moved }] : [];
    };
    try {
      const { card, lights = [], links = [], ranges } = await read.ask(about, { position: before, ...fuel }),
        [movedCard] = card ? now(card) : [];
      const movedRanges = movedSelection(ranges, edits);
      return {
        ...(movedCard ? { card: movedCard } : {}),
        ...(movedRanges ? { ranges: movedRanges } : {}),
        lights: lights.flatMap(now),
        links: links.flatMap((link): LocationLink[] => {
          const origin = link.originSelectionRange && movedRange(link.originSelectionRange, edits);
          return origin ? [{ ...link, originSelectionRange: origin }] : [];
        }),
      };
    } catch {
      // That thread has a later state by now, of which the findings are here, or it was let go, and another reads it again.
      if (documents.views(uri)?.read === read) {
        if (isAgain) return undefined;
        await documents.elsewhere(uri, async () => undefined);
      }
      return ask(uri, about, position, true);
    }
  };
  return {
    async views(uri) {
      const last = await made(uri),
        key = await documents.signalsKey(uri),
        stamp = await workspace.stamp(uri);
      if (!last || key === undefined || stamp === undefined) return undefined;
      if (last.key === key) return last.views;
      const edited = workspace.edited?.(uri, last.stamp);
      if (!edited) return undefined;
      const moved = { ...last, key, stamp, views: last.views.then((views) => movedViews(views, edited.edits)) };
      documents.keepViews(uri, moved, last);
      return moved.views;
    },

    ask,
  };
}

function movedSelection(of: SelectionRange | undefined, edits: readonly Edit[]): SelectionRange | undefined {
  const moved = of && movedRange(of.range, edits),
    parent = of && movedSelection(of.parent, edits);
  return moved ? { range: moved, ...(parent ? { parent } : {}) } : parent;
}

/** After edits: what is left stands where it is now. */
export function movedViews({ symbols, folds, lenses, tokens }: SessionViews, edits: readonly Edit[]): SessionViews {
  const movedSymbols = (all: readonly DocumentSymbol[]): DocumentSymbol[] =>
    all.flatMap((symbol) => {
      const [whole, selected] = [movedRange(symbol.range, edits), movedRange(symbol.selectionRange, edits)];
      return whole && selected
        ? [{ ...symbol, range: whole, selectionRange: selected, ...(symbol.children ? { children: movedSymbols(symbol.children) } : {}) }]
        : [];
    });
  return {
    symbols: movedSymbols(symbols),
    folds: folds.flatMap((fold) => {
      const moved = movedRange(range(fold.startLine, 0, fold.endLine, 0), edits);
      return moved && moved.end.line > moved.start.line ? [{ ...fold, startLine: moved.start.line, endLine: moved.end.line }] : [];
    }),
    lenses: lenses.flatMap((lens) => {
      const moved = movedRange(lens.range, edits);
      return moved
        ? [
            {
              range: moved,
              command: {
                ...lens.command!,
                arguments: (lens.command?.arguments as PlaceParams[] | undefined)?.map((place) => ({
                  ...place,
                  line: movedLine(place.line, edits) ?? moved.start.line,
                })),
              },
            },
          ]
        : [];
    }),
    tokens: tokens?.flatMap((token) => {
      const moved = movedRange(range(token.line, token.character, token.line, token.character + token.length), edits);
      return moved && moved.start.line === moved.end.line && moved.end.character > moved.start.character
        ? [{ ...token, line: moved.start.line, character: moved.start.character, length: moved.end.character - moved.start.character }]
        : [];
    }),
  };
}
