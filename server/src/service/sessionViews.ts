// What the editor shows around a session's text without being asked: outline, folds, call-outs and tokens. Of a long session they are made on the other thread
// with the findings, and carried along while somebody types, as those are.

import type { CodeLens, DocumentSymbol, FoldingRange } from 'vscode-languageserver-types';
import { range } from '../formats/range.js';
import type { Signals } from '../signals/signals.js';
import type { PlaceParams } from '../protocol/messages.js';
import { sessionLenses } from './codeLens.js';
import type { Documents } from './documents.js';
import { sessionSymbols } from './documentSymbols.js';
import { movedRange, type Edit } from './followEdits.js';
import { sessionFolding } from './foldingRanges.js';
import { MOST_TOKENS, sessionTokens, type Token } from './semanticTokens.js';
import type { Workspace } from './workspace.js';

export interface SessionViews {
  readonly symbols: DocumentSymbol[];
  readonly folds: FoldingRange[];
  /** With the commands that a click runs. */
  readonly lenses: CodeLens[];
  /** Of the whole text; undefined where they are too many for one answer. */
  readonly tokens: Token[] | undefined;
}

/** The views of a session as it was when they were made: at that stamp of its file, and under that key. */
export interface MadeViews { readonly key: string; readonly stamp: string; readonly views: Promise<SessionViews> }

export function viewsOf(signals: Signals, uri: string): SessionViews {
  const tokens = sessionTokens(signals);
  return { symbols: sessionSymbols(signals), folds: sessionFolding(signals), lenses: sessionLenses(signals, uri, { commands: true }), tokens: tokens.length < MOST_TOKENS ? tokens : undefined };
}

/** The views of a long open session, after `check` had it read; undefined where they are not made elsewhere, or its samples are in memory here. */
export function createSessionViews(workspace: Workspace, documents: Documents, check: (uri: string) => Promise<unknown>): (uri: string) => Promise<SessionViews | undefined> {
  return async (uri) => {
    if (!await documents.isElsewhere(uri)) return undefined;
    await check(uri);
    const made = documents.views(uri), key = await documents.signalsKey(uri), stamp = await workspace.stamp(uri);
    if (!made || key === undefined || stamp === undefined) return undefined;
    if (made.key === key) return made.views;
    const edited = workspace.edited?.(uri, made.stamp);
    if (!edited) return undefined;
    const moved = { key, stamp, views: made.views.then((views) => movedViews(views, edited.edits)) };
    documents.keepViews(uri, moved, made);
    return moved.views;
  };
}

/** After edits: what is left stands where it is now. */
export function movedViews({ symbols, folds, lenses, tokens }: SessionViews, edits: readonly Edit[]): SessionViews {
  const movedSymbols = (all: readonly DocumentSymbol[]): DocumentSymbol[] => all.flatMap((symbol) => {
    const [whole, selected] = [movedRange(symbol.range, edits), movedRange(symbol.selectionRange, edits)];
    return whole && selected ? [{ ...symbol, range: whole, selectionRange: selected, ...(symbol.children ? { children: movedSymbols(symbol.children) } : {}) }] : [];
  });
  return {
    symbols: movedSymbols(symbols),
    folds: folds.flatMap((fold) => {
      const moved = movedRange(range(fold.startLine, 0, fold.endLine, 0), edits);
      return moved && moved.end.line > moved.start.line ? [{ ...fold, startLine: moved.start.line, endLine: moved.end.line }] : [];
    }),
    lenses: lenses.flatMap((lens) => {
      const moved = movedRange(lens.range, edits);
      return moved ? [{ range: moved, command: { ...lens.command!, arguments: (lens.command?.arguments as PlaceParams[] | undefined)?.map((place) => ({ ...place, line: movedRange(range(place.line, 0, place.line, 0), edits)?.start.line ?? moved.start.line })) } }] : [];
    }),
    tokens: tokens?.flatMap((token) => {
      const moved = movedRange(range(token.line, token.character, token.line, token.character + token.length), edits);
      return moved && moved.start.line === moved.end.line && moved.end.character > moved.start.character
        ? [{ ...token, line: moved.start.line, character: moved.start.character, length: moved.end.character - moved.start.character }] : [];
    }),
  };
}
