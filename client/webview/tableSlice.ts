// A slice through a row or a column of the table: its values as a curve, what they should be with the 95 % interval, and what is proposed.

import type { PictureCell, TablePicture } from '../../server/src/protocol/table.js';
import type { TableWords } from '../../server/src/protocol/tableWords.js';
import { fill } from '../../server/src/protocol/traceWords.js';
import { lineThrough, svg } from './svg.js';
import type { Along } from './tableState.js';
import { unitOf } from './tableSpeech.js';
import { ticks } from './ticks.js';

/** One point a cell of the slice. */
export interface SlicePoint {
  readonly cell: number;
  /** Breakpoint as written; its place along the axis where there is none. */
  readonly x: number;
  readonly value: number | null;
  /** Ends of what the value should be; null without evidence. */
  readonly interval: readonly [low: number, high: number] | null;
  readonly firm: boolean;
  readonly proposed: number | null;
}

export function sliceOf({ cells, columns, rows }: TablePicture, focus: number, along: Along): SlicePoint[] {
  const width = columns.texts.length;
  const axis = along === 'row' ? columns : rows;
  return axis.values.map((x, k): SlicePoint => {
    const cell = along === 'row' ? Math.floor(focus / width) * width + k : k * width + (focus % width);
    const { value, evidence, proposed }: PictureCell = cells[cell]!;
    return {
      cell,
      x: x ?? k,
      value,
      firm: evidence?.proof === 'firm',
      proposed: proposed?.value ?? null,
      interval: value !== null && evidence ? [value * evidence.factorLow, value * evidence.factorHigh] : null,
    };
  });
}

/** Which way the slice goes and how it is called: a table of one row or column has one along the other axis only. */
export function slicedAlong(
  { columns, rows, title }: TablePicture,
  focus: number,
  along: Along,
  words: TableWords,
): { readonly way: Along; readonly only: Along | undefined; readonly name: string } {
  const width = columns.texts.length,
    only: Along | undefined = rows.texts.length === 1 ? 'row' : width === 1 ? 'column' : undefined,
    way = only ?? along;
  const at = way === 'row' ? rows : columns,
    place = at.texts[way === 'row' ? Math.floor(focus / width) : focus % width] ?? '';
  return {
    way,
    only,
    name: place === '' ? title : fill(way === 'row' ? words.sliceRow : words.sliceColumn, `${place} ${unitOf(at.title)}`.trim()),
  };
}

/** Thin evidence may say anything: heights follow it no farther than this share of the values' span beyond them. */
const THIN_REACH = 0.5;

/**
 * Lowest and highest that the drawing shows: all values and proposals, firm intervals, thin ones as far as they do not press the rest flat.
 */
export function sliceHeights(points: readonly SlicePoint[]): readonly [number, number] {
  const sure = points.flatMap(({ value, proposed, firm, interval }) =>
    [value, proposed, ...(firm && interval ? interval : [])].filter((each) => each !== null),
  );
  if (sure.length === 0) return [0, 1];
  const low = Math.min(...sure),
    high = Math.max(...sure);
  const reach = (high - low || Math.abs(high) || 1) * THIN_REACH;
  const thin = points.flatMap(({ interval }) => interval ?? []);
  const air = (high - low || Math.abs(high) * 0.1 || 1) * 0.08;
  return [Math.max(Math.min(low, ...thin), low - reach) - air, Math.min(Math.max(high, ...thin), high + reach) + air];
}

const MARGIN = { left: 46, right: 12, top: 8, bottom: 34 };

/** Drawn anew at each change: it is small. */
export function drawSlice(
  picture: TablePicture,
  focus: number,
  along: Along,
  size: { readonly width: number; readonly height: number },
  name: string,
  words: TableWords,
): SVGSVGElement {
  const points = sliceOf(picture, focus, along);
  const axis = along === 'row' ? picture.columns : picture.rows;
  const [low, high] = sliceHeights(points);
  const xs = points.map(({ x }) => x);
  const from = Math.min(...xs),
    to = Math.max(...xs);
  const { width, height } = size;
  const px = (x: number): number => MARGIN.left + (to > from ? (x - from) / (to - from) : 0.5) * (width - MARGIN.left - MARGIN.right);
  const py = (y: number): number =>
    height - MARGIN.bottom - Math.min(1, Math.max(0, (y - low) / (high - low))) * (height - MARGIN.top - MARGIN.bottom);
  const picked = svg('svg', {
    class: 'slice-drawing',
    width,
    height,
    viewBox: `0 0 ${width} ${height}`,
    role: 'img',
    'aria-label': sliceWords(picture, points, axis.title, name, words),
  });
  for (const { at, text } of ticks(low, high, Math.max(2, Math.floor(height / 40)))) {
    picked.append(
      svg('path', { class: 'grid', d: `M${MARGIN.left} ${py(at).toFixed(1)}H${width - MARGIN.right}` }),
      svg('text', { x: MARGIN.left - 5, y: py(at) + 4, class: 'end' }, text),
    );
  }
  let labelled = -Infinity;
  points.forEach(({ x }, k) => {
    const text = axis.texts[k] ?? '';
    const half = text.length * 3.5 + 4;
    if (px(x) - half < labelled) return;
    labelled = px(x) + half;
    picked.append(svg('text', { x: px(x), y: height - MARGIN.bottom + 14, class: 'middle' }, text));
  });
  picked.append(svg('text', { x: (MARGIN.left + width - MARGIN.right) / 2, y: height - 4, class: 'middle' }, axis.title));
  const here = points.find(({ cell }) => cell === focus);
  if (here) picked.append(svg('path', { class: 'here', d: `M${px(here.x).toFixed(1)} ${MARGIN.top}V${height - MARGIN.bottom}` }));
  for (const { x, interval, firm } of points) {
    if (!interval) continue;
    const [bottom, top] = [py(interval[0]), py(interval[1])],
      at = px(x);
    picked.append(
      svg('path', {
        class: firm ? 'interval' : 'interval thin',
        d: `M${at - 4} ${bottom.toFixed(1)}h8M${at - 4} ${top.toFixed(1)}h8M${at} ${bottom.toFixed(1)}V${top.toFixed(1)}`,
      }),
    );
  }
  const valued = points.flatMap(({ x, value }): [number, number][] => (value === null ? [] : [[px(x), py(value)]]));
  const after = points.flatMap(({ x, value, proposed }): [number, number][] => (value === null ? [] : [[px(x), py(proposed ?? value)]]));
  if (points.some(({ proposed }) => proposed !== null)) picked.append(svg('path', { class: 'after', d: lineThrough(after) }));
  picked.append(svg('path', { class: 'now', d: lineThrough(valued) }));
  for (const [x, y] of valued) picked.append(svg('circle', { class: 'now', cx: x, cy: y, r: 2.5 }));
  for (const { x, proposed } of points)
    if (proposed !== null) picked.append(svg('path', { class: 'proposal', d: `M${px(x)} ${py(proposed) - 5}l5 5l-5 5l-5 -5z` }));
  return picked;
}

function sliceWords({ title }: TablePicture, points: readonly SlicePoint[], axisTitle: string, name: string, words: TableWords): string {
  const values = points.flatMap(({ value }) => (value === null ? [] : [value]));
  return fill(
    words.sliceWords,
    name,
    points[0]?.x ?? '',
    points.at(-1)?.x ?? '',
    unitOf(axisTitle),
    Math.min(...values),
    `${Math.max(...values)} ${unitOf(title)}`.trim(),
    points.filter(({ proposed }) => proposed !== null).length,
  );
}
