// A table's cells in words: for a screen reader in the grid, and beside it for everyone.

import type { PathResult, PictureCell, TablePicture } from '../../server/src/protocol/table.js';
import type { PathChoice } from '../../server/src/protocol/tableMessages.js';
import type { TableWords } from '../../server/src/protocol/tableWords.js';
import { fill } from '../../server/src/protocol/traceWords.js';
import { fixed } from './numbers.js';
import { halfPercent, type Mark } from './tableScale.js';

/** The unit in the brackets at the end of a title. */
export const unitOf = (title: string): string => /\(([^()]*(?:\([^()]*\))?)\)$/.exec(title)?.[1] ?? '';

const joined = (parts: readonly (string | undefined)[], by: string): string => parts.filter(Boolean).join(by);

/** Where a cell is: `6000 rpm, 170 kPa`. */
export function placeWords({ columns, rows }: TablePicture, cell: number, words: TableWords): string {
  const width = columns.texts.length;
  const along = ({ texts, title }: TablePicture['columns'], at: number): string =>
    texts[at] ? joined([texts[at], unitOf(title)], ' ') : '';
  return joined([along(columns, cell % width), along(rows, Math.floor(cell / width))], ', ') || words.only;
}

/** What a screen reader says of a cell besides its headers: the number, then what is shown of it, then what would change it. */
export function cellWordsOf(cell: PictureCell, mark: Mark, { title }: TablePicture, words: TableWords): string {
  return joined(
    [joined([cell.text || words.blank, unitOf(title)], ' '), mark.words, cell.proposed && fill(words.proposed, cell.proposed.text)],
    '; ',
  );
}

/** All that is known of a cell, a line each. */
export function detailWords(picture: TablePicture, cell: PictureCell, words: TableWords): string[] {
  const { evidence, proposed, dutyPercent } = cell;
  const lines: string[] = [];
  if (evidence) {
    const { factor, factorLow, factorHigh, proof, samples, measuredLambda, targetLambda } = evidence;
    const percent = 100 * (factor - 1);
    lines.push(
      `×${fixed(factor, 3)}: ${Math.abs(percent) < 1 ? words.onTarget : fill(percent > 0 ? words.short : words.over, fixed(Math.abs(percent), 1))}`,
    );
    lines.push(
      `${fill(words.interval, fixed(factorLow, 3), fixed(factorHigh, 3))} (${fill(words.within, fixed(halfPercent(evidence), 1))})`,
    );
    lines.push(
      samples < 1
        ? proof === 'firm'
          ? words.firmNeighbours
          : words.thinNeighbours
        : fill(proof === 'firm' ? words.firmMore : words.thinMore, Math.round(samples)),
    );
    if (measuredLambda !== null && targetLambda !== null) lines.push(fill(words.lambda, fixed(measuredLambda, 3), fixed(targetLambda, 3)));
  } else if (picture.evidence === 'there') lines.push(words.noneMore);
  if (proposed) lines.push(`${fill(words.proposed, proposed.text)}${proposed.capped ? ` (${words.capped})` : ''}`);
  if (dutyPercent !== undefined)
    lines.push(
      `${fill(words.dutyAt, fixed(dutyPercent, 0))}, ${fill(dutyPercent >= picture.dutyLimitPercent ? words.dutyOver : words.dutyRoom, picture.dutyLimitPercent)}`,
    );
  return lines;
}

/** Several cells in two lines. */
export function selectionWords(cells: readonly PictureCell[], words: TableWords): string[] {
  const count = (proof: 'firm' | 'thin' | undefined): number => cells.filter(({ evidence }) => evidence?.proof === proof).length;
  const values = cells.flatMap(({ value }) => (value === null ? [] : [value]));
  const ends = values.length > 0 ? [Math.min(...values), Math.max(...values)] : ['—', '—'];
  return [fill(words.selected, cells.length), fill(words.selectedMore, count('firm'), count('thin'), count(undefined), ends[0], ends[1])];
}

/** How a run is called in the list. */
export const runWords = ({ pull, direction, fromS, words: numbers }: PathChoice, words: TableWords): string =>
  `${pull > 0 ? `${fill(words.pullName, pull)}${direction === 'down' ? ' ↓' : ''}` : fill(words.downName, fixed(fromS, 1))}${numbers ? ` (${numbers})` : ''}`;

/** A run's way through the table, and how the run is called. */
export interface NamedWay {
  readonly path: PathResult;
  readonly name: string;
}

/** From where to where a run led through the table, and where it was worst. */
export function wayWords(
  { path: { places, worst, worstLambda, worstTargetLambda }, name }: NamedWay,
  picture: TablePicture,
  words: TableWords,
): string {
  const near = ([column, row]: readonly [number, number]): string =>
    placeWords(picture, Math.round(row) * picture.columns.texts.length + Math.round(column), words);
  const [first, last] = [places[0], places.at(-1)];
  if (!first || !last) return words.noWay;
  const way = fill(words.pathWords, name, near(first), near(last));
  return worst && worstLambda !== null && worstTargetLambda !== null
    ? `${way} ${fill(words.pathWorst, fixed(worstLambda, 2), fixed(worstTargetLambda, 2), near(worst))}`
    : way;
}
