// The way of a pull, drawn over the cells: where it began, where it ended, where the fuel of its worst lambda was injected.

import type { PathResult } from '../../server/src/protocol/table.js';
import { lineThrough, svg } from './svg.js';

export interface Middles {
  readonly x: readonly number[];
  readonly y: readonly number[];
}

/** A place counted in breakpoints, in pixels: straight between the middles of the cells. */
export function pixelOf(middles: readonly number[], position: number): number {
  const last = middles.length - 1;
  const lower = Math.min(Math.max(0, Math.floor(position)), Math.max(0, last - 1));
  const next = middles[lower + 1];
  return next === undefined ? (middles[lower] ?? 0) : middles[lower]! + (position - lower) * (next - middles[lower]!);
}

const HALF = 5;

/** Hidden from readers: the words beside the grid say the same. */
export function drawWay(
  { places, worst }: PathResult,
  middles: Middles,
  size: { readonly width: number; readonly height: number },
  words: { readonly start: string; readonly end: string; readonly worst: string },
): SVGSVGElement {
  const at = ([column, row]: readonly [number, number]): [number, number] => [pixelOf(middles.x, column), pixelOf(middles.y, row)];
  const drawing = svg('svg', { class: 'way', ...size, viewBox: `0 0 ${size.width} ${size.height}`, 'aria-hidden': 'true' });
  const points = places.map(at);
  const line = lineThrough(points);
  drawing.append(svg('path', { class: 'under', d: line }), svg('path', { class: 'line', d: line }));
  const label = (text: string, [x, y]: readonly [number, number]): void => {
    const right = x > size.width - 60;
    drawing.append(svg('text', { x: x + (right ? -9 : 9), y: y + 4, class: right ? 'end' : '' }, text));
  };
  const [first, last] = [points[0], points.at(-1)];
  if (first && last) {
    drawing.append(
      svg('circle', { class: 'first', cx: first[0], cy: first[1], r: HALF }),
      svg('rect', { class: 'last', x: last[0] - HALF, y: last[1] - HALF, width: 2 * HALF, height: 2 * HALF }),
    );
    label(words.start, first);
    label(words.end, last);
  }
  if (worst) {
    const [x, y] = at(worst);
    drawing.append(svg('path', { class: 'worst', d: `M${x} ${y - 8}l8 8l-8 8l-8 -8z` }));
    label(words.worst, [x, y]);
  }
  return drawing;
}
