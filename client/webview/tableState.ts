// What the table's picture shows and where it stands: plain data that survives a reload, and the pure steps of selecting.

import type { PictureCell, TablePicture } from '../../server/src/protocol/table.js';
import type { TextSpan } from '../../server/src/protocol/tableMessages.js';

/** What the cells show. */
export const EVERY_SHOWN = ['value', 'factor', 'evidence', 'duty'] as const;
export type Shown = (typeof EVERY_SHOWN)[number];
export type Along = 'row' | 'column';

export interface TableState {
  readonly uri: string;
  readonly shown: Shown;
  /** The slice runs along the row or the column of the cell in focus. */
  readonly along: Along;
  /** The cell that keys move from, by its place row by row. */
  readonly focus: number;
  /** Where a selection that grows began. */
  readonly anchor: number;
  readonly selected: ReadonlySet<number>;
  /** The pull drawn over the cells: a session, and its run once one is chosen. */
  readonly path: { readonly session: string; readonly run: number | undefined } | undefined;
}

export const firstTableState = ({ uri, evidence }: TablePicture): TableState => ({
  uri,
  shown: evidence === 'there' ? 'factor' : 'value',
  along: 'row',
  focus: 0,
  anchor: 0,
  selected: new Set(),
  path: undefined,
});

/** What is handed to the editor to be kept. */
export const keptOf = ({ selected, ...rest }: TableState): unknown => ({ ...rest, selected: [...selected] });

/** A state from before a reload, where it is one of this table; else undefined. */
export function restoredTable(value: unknown, picture: TablePicture): TableState | undefined {
  const state = value as Partial<Omit<TableState, 'selected'> & { selected: unknown }> | null | undefined;
  if (!state || state.uri !== picture.uri) return undefined;
  const first = firstTableState(picture);
  const cell = (at: unknown): number =>
    Number.isSafeInteger(at) && (at as number) >= 0 && (at as number) < picture.cells.length ? (at as number) : 0;
  const { path } = state;
  return {
    ...first,
    shown: EVERY_SHOWN.find((each) => each === state.shown) ?? first.shown,
    along: state.along === 'column' ? 'column' : 'row',
    focus: cell(state.focus),
    anchor: cell(state.anchor),
    selected: new Set(Array.isArray(state.selected) ? state.selected.filter((at) => cell(at) === at) : []),
    path:
      typeof path === 'object' && path !== null && picture.sessions.some(({ uri }) => uri === path.session)
        ? { session: path.session, run: Number.isSafeInteger(path.run) ? path.run : undefined }
        : undefined,
  };
}

/** The rectangle between two cells. */
export function rectangle(a: number, b: number, width: number): ReadonlySet<number> {
  const [rowA, rowB] = [Math.floor(a / width), Math.floor(b / width)],
    [columnA, columnB] = [a % width, b % width];
  const cells = new Set<number>();
  for (let row = Math.min(rowA, rowB); row <= Math.max(rowA, rowB); row++) {
    for (let column = Math.min(columnA, columnB); column <= Math.max(columnA, columnB); column++) cells.add(row * width + column);
  }
  return cells;
}

/** The cells that a command is for: those selected, or the one in focus where it is not among them. */
export const cellsMeant = ({ selected, focus }: Pick<TableState, 'selected' | 'focus'>): ReadonlySet<number> =>
  selected.has(focus) ? selected : new Set([focus]);

/** One step within the grid; at its edge the cell stays. */
export function stepped(from: number, rows: number, columns: number, width: number, height: number): number {
  const clamp = (value: number, most: number): number => Math.min(Math.max(value, 0), most);
  return clamp(Math.floor(from / width) + rows, height - 1) * width + clamp((from % width) + columns, width - 1);
}

/**
 * The cells whose numbers a selection of the text touches, in the order of the selections; an empty one touches the number that it stands
 * at.
 */
export function cellsTouched(cells: readonly PictureCell[], spans: readonly TextSpan[]): number[] {
  const touched = new Set<number>();
  for (const { startLine, startCharacter, endLine, endCharacter } of spans) {
    cells.forEach(({ line, character, endCharacter: end }, cell) => {
      const isBefore =
        line < startLine ||
        (line === startLine && (startLine === endLine && startCharacter === endCharacter ? end < startCharacter : end <= startCharacter));
      const isBehind =
        line > endLine ||
        (line === endLine &&
          (startLine === endLine && startCharacter === endCharacter ? character > endCharacter : character >= endCharacter));
      if (!isBefore && !isBehind) touched.add(cell);
    });
  }
  return [...touched];
}

/** Where cells' numbers stand in the text, the cell in focus first: an editor takes that one for its cursor. */
export const spansOfCells = (cells: readonly PictureCell[], selected: ReadonlySet<number>, focus: number): TextSpan[] =>
  [...new Set([...(selected.has(focus) ? [focus] : []), ...[...selected].sort((a, b) => a - b)])].flatMap((at) => {
    const cell = cells[at];
    return cell ? [{ startLine: cell.line, startCharacter: cell.character, endLine: cell.line, endCharacter: cell.endCharacter }] : [];
  });
