// The outline: recordings with their pulls and worst moments, channels; a table's head and rows.

import { SymbolKind, type DocumentSymbol } from 'vscode-languageserver-types';
import { range, type Range } from '../../formats/range.js';
import type { Table } from '../../formats/table/table.js';
import { QUANTITIES } from '../../quantities/quantity.js';
import type { Pull, Signals, Span } from '../../signals/signals.js';
import { powerWords } from './pullFacts.js';

/** A wider log than this gets its first channels only: an outline is for looking at. */
const MOST_CHANNELS = 500;

export function sessionSymbols(signals: Signals): DocumentSymbol[] {
  const { session } = signals;
  const header = session.headerRange;
  const channels: DocumentSymbol[] = session.channels
    .slice(0, MOST_CHANNELS)
    .map(({ name, header: written, headerRange, quantity, unit }) => ({
      name: name || written || '(no name)',
      detail: [quantity ? QUANTITIES[quantity].title : 'not recognised', unit?.symbol].filter(Boolean).join(', '),
      kind: SymbolKind.Field,
      range: headerRange,
      selectionRange: headerRange,
    }));
  const recordings = signals.recordings
    .filter(({ from, to }) => to > from)
    .map((recording, index): DocumentSymbol => ({
      name: signals.recordings.length > 1 ? `Recording ${index + 1}` : 'Recording',
      detail: spanWords(signals, recording),
      kind: SymbolKind.Namespace,
      ...placeOf(signals, recording),
      children: signals.pulls.flatMap((pull, number) =>
        pull.from >= recording.from && pull.from < recording.to
          ? [{ name: `Pull ${number + 1}`, detail: pullWords(signals, pull), kind: SymbolKind.Event, ...placeOf(signals, pull) }]
          : [],
      ),
    }));
  const head: DocumentSymbol[] =
    channels.length > 0
      ? [
          {
            name: 'Channels',
            detail: String(session.channels.length),
            kind: SymbolKind.Struct,
            range: header,
            selectionRange: header,
            children: channels.map((channel) => within(channel, header)),
          },
        ]
      : [];
  return [...head, ...recordings];
}

/** Children must lie within their parent; a header over two rows may not. */
const within = (child: DocumentSymbol, parent: Range): DocumentSymbol =>
  child.range.start.line >= parent.start.line && child.range.end.line <= parent.end.line
    ? child
    : { ...child, range: parent, selectionRange: parent };

export function tableSymbols(table: Table): DocumentSymbol[] {
  if (table.values.length === 0) return [];
  const title = [table.quantity?.replaceAll('-', ' ') ?? 'table', table.unit?.symbol].filter(Boolean).join(', ');
  const width = table.columns.values.length;
  const height = table.values.length / width;
  const rows = Array.from({ length: height }, (_, row): DocumentSymbol => {
    const place = lineOf(table, row, width);
    return {
      name: rowName(table, row),
      detail: `${table.cellText(row, 0)} … ${table.cellText(row, width - 1)}`,
      kind: SymbolKind.Array,
      range: place,
      selectionRange: place,
    };
  });
  const all = range(
    table.headRange.start.line,
    table.headRange.start.character,
    rows[height - 1].range.end.line,
    rows[height - 1].range.end.character,
  );
  return [
    { name: title, detail: `${height} × ${width}`, kind: SymbolKind.Class, range: all, selectionRange: table.headRange, children: rows },
  ];
}

function rowName({ rows }: Table, row: number): string {
  const value = rows.values[row];
  return value === undefined || Number.isNaN(value) ? `Row ${row + 1}` : `${value}${rows.unit?.symbol ? ` ${rows.unit.symbol}` : ''}`;
}

function lineOf(table: Table, row: number, width: number): Range {
  const first = table.rows.ranges[row] ?? table.cellRange(row, 0);
  const last = table.cellRange(row, width - 1);
  return range(first.start.line, first.start.character, last.end.line, Math.max(last.end.character, first.end.character));
}

/** Whole lines of a span; the first of them selected. */
function placeOf({ session: { places } }: Signals, { from, to }: Span): { range: Range; selectionRange: Range } {
  const first = places.lineOf(from);
  const last = places.lineOf(to - 1);
  return { range: range(first, 0, last + 1, 0), selectionRange: range(first, 0, first, 0) };
}

const spanWords = ({ timeS }: Signals, { from, to }: Span): string => `${timeS[from].toFixed(1)} to ${timeS[to - 1].toFixed(1)} s`;

/** `2480–6900 rpm, 186 kPa, worst λ 0.93 (target 0.86)`: a pull in one line. */
export function pullWords(signals: Signals, pull: Pull): string {
  const parts = [`${Math.round(pull.fromRpm)}–${Math.round(pull.toRpm)} rpm`];
  if (pull.peakManifoldPressureKPa !== undefined) parts.push(`${Math.round(pull.peakManifoldPressureKPa)} kPa`);
  if (pull.worstLambda !== undefined)
    parts.push(
      `worst λ ${pull.worstLambda.toFixed(2)}${pull.worstTargetLambda === undefined ? '' : ` (target ${pull.worstTargetLambda.toFixed(2)})`}${pull.worstAt === undefined ? '' : ` at ${signals.timeS[pull.worstAt].toFixed(2)} s`}`,
    );
  if (pull.peakKnockRetardDeg) parts.push(`knock ${pull.peakKnockRetardDeg.toFixed(1)}°`);
  if (pull.peakDutyPercent !== undefined) parts.push(`duty ${Math.round(pull.peakDutyPercent)} %`);
  const power = powerWords(signals, pull);
  if (power !== undefined) parts.push(power);
  return parts.join(', ');
}
