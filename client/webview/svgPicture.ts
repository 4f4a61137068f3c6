// The lanes as a drawing in a file of its own: made from the numbers that are drawn, with text as text. No page is needed to make it.

import type { TraceSpell } from '../../server/src/protocol/trace.js';
import type { Dash } from './dashes.js';
import { countBelow, type Line } from './tables.js';
import { ticks } from './ticks.js';

/** One lane as it is drawn. Colours as CSS writes them. */
export interface DrawnLane {
  readonly head: readonly { readonly name: string; readonly unit: string; readonly colour: string; readonly dash: Dash }[];
  readonly x: ArrayLike<number>;
  readonly lines: readonly { readonly line: Line; readonly colour: string; readonly dash: Dash; readonly scale: string }[];
  /** Lowest and highest shown of each scale; the first has its axis on the left, the second on the right. */
  readonly heights: ReadonlyMap<string, readonly [low: number, high: number]>;
  readonly spells: readonly Pick<TraceSpell, 'fromS' | 'toS' | 'severity'>[];
  /** From the line with this index to its limit. */
  readonly band: { readonly target: number; readonly limitOf: (target: number) => number } | undefined;
}

export interface DrawnPicture {
  readonly title: string;
  /** Runs by colour, where runs lie over each other. */
  readonly legend: readonly { readonly name: string; readonly colour: string; readonly dash: Dash }[];
  readonly lanes: readonly DrawnLane[];
  readonly range: { readonly from: number; readonly to: number };
  readonly axisLabel: string;
  readonly axisWords: (x: number) => string;
  /** Of the lanes' inner parts, pixels. */
  readonly width: number;
  readonly laneHeight: number;
  readonly colours: {
    readonly foreground: string;
    readonly background: string;
    readonly grid: string;
    readonly severity: Readonly<Record<TraceSpell['severity'], string>>;
  };
}

const SIDE = 56;
const ROW = 18;
const AXIS = 36;
const GAP = 8;
/** About as wide as a letter of the text is, pixels. */
const LETTER = 6.2;

// prettier-ignore
// eslint-disable-next-line no-control-regex
const NOT_IN_XML = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]|[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g;
/** Text as XML has it: signs that would be markup are written out, those that XML cannot hold are left out. */
export const escaped = (text: string): string => text.replace(NOT_IN_XML, '').replace(/[&<>"']/g, (sign) => `&#${sign.charCodeAt(0)};`);

type Attributes = Readonly<Record<string, string | number | undefined>>;
const tag = (name: string, attributes: Attributes, content?: string): string =>
  `<${name}${Object.entries(attributes)
    .map(([key, value]) => (value === undefined ? '' : ` ${key}="${escaped(String(value))}"`))
    .join('')}${content === undefined ? '/>' : `>${content}</${name}>`}`;
const text = (x: number, y: number, words: string, anchor?: 'end' | 'middle'): string =>
  tag('text', { x: round(x), y: round(y), 'text-anchor': anchor }, escaped(words));
const round = (value: number): number => Math.round(value * 10) / 10;
const dashed = (dash: Dash): string | undefined => dash.join(' ') || undefined;

/** A whole file. */
export function svgPicture(picture: DrawnPicture): string {
  const { lanes, width, laneHeight, colours, title, legend } = picture;
  const parts: string[] = [text(SIDE, 16, title)];
  let top = 22;
  if (legend.length > 0) {
    const rows = namesInRows(legend, width);
    rows.forEach((row) => {
      parts.push(...row.map(({ x, entry }) => named(SIDE + x, top + 12, entry.name, entry)));
      top += ROW;
    });
  }
  for (const lane of lanes) {
    parts.push(tag('g', { transform: `translate(${SIDE} ${top})` }, laneDrawing(lane, picture)));
    top += ROW + laneHeight + GAP;
  }
  parts.push(tag('g', { transform: `translate(${SIDE} ${top - GAP})` }, axisDrawing(picture)));
  const height = top - GAP + AXIS,
    whole = width + 2 * SIDE;
  return `<?xml version="1.0" encoding="UTF-8"?>\n${tag(
    'svg',
    {
      xmlns: 'http://www.w3.org/2000/svg',
      width: whole,
      height,
      viewBox: `0 0 ${whole} ${height}`,
      'font-family': 'sans-serif',
      'font-size': 11,
      fill: colours.foreground,
    },
    `${tag('title', {}, escaped(title))}${tag('rect', { width: whole, height, fill: colours.background })}${parts.join('\n')}`,
  )}\n`;
}

interface Entry {
  readonly name: string;
  readonly colour: string;
  readonly dash: Dash;
}

const named = (x: number, y: number, words: string, { colour, dash }: Omit<Entry, 'name'>): string =>
  tag('path', { d: `M${round(x)} ${round(y - 4)}h24`, stroke: colour, 'stroke-width': 2, 'stroke-dasharray': dashed(dash) }) +
  text(x + 29, y, words);

/** Names one behind the other, in as many rows as they need. */
function namesInRows(entries: readonly Entry[], width: number): { x: number; entry: Entry }[][] {
  const rows: { x: number; entry: Entry }[][] = [[]];
  let x = 0;
  for (const entry of entries) {
    const wide = 45 + entry.name.length * LETTER;
    if (x > 0 && x + wide > width) {
      rows.push([]);
      x = 0;
    }
    rows.at(-1)!.push({ x, entry });
    x += wide;
  }
  return rows;
}

function laneDrawing(lane: DrawnLane, { range, width, laneHeight, colours, axisWords }: DrawnPicture): string {
  const xOf = (x: number): number => ((x - range.from) / (range.to - range.from)) * width;
  const yOf = (value: number, scale: string): number => {
    const [low, high] = lane.heights.get(scale) ?? [0, 1];
    return ROW + laneHeight - ((value - low) / (high - low || 1)) * laneHeight;
  };
  const parts: string[] = [];
  let at = 0;
  for (const { name, unit, colour, dash } of lane.head) {
    const words = unit ? `${name} (${unit})` : name;
    parts.push(named(at, 13, words, { colour, dash }));
    at += 45 + words.length * LETTER;
  }
  for (const { fromS, toS, severity } of lane.spells) {
    if (toS < range.from || fromS > range.to) continue;
    const from = Math.max(0, xOf(fromS)),
      to = Math.min(width, Math.max(xOf(toS), from + 2));
    parts.push(
      tag('rect', {
        x: round(from),
        y: ROW,
        width: round(Math.max(0, to - from)),
        height: laneHeight,
        fill: colours.severity[severity],
        'fill-opacity': 0.16,
        stroke: colours.severity[severity],
        'stroke-dasharray': severity === 'error' ? undefined : '3 3',
      }),
    );
  }
  const [left, right] = [...lane.heights.keys()];
  if (left !== undefined) {
    for (const tick of ticks(...lane.heights.get(left)!, Math.max(2, laneHeight / 30))) {
      const y = round(yOf(tick.at, left));
      parts.push(tag('path', { d: `M0 ${y}H${width}`, stroke: colours.grid }), text(-5, y + 4, tick.text, 'end'));
    }
  }
  if (right !== undefined)
    for (const tick of ticks(...lane.heights.get(right)!, Math.max(2, laneHeight / 30)))
      parts.push(text(width + 5, yOf(tick.at, right) + 4, tick.text));
  for (const tick of axisTicks(range, width, axisWords))
    parts.push(tag('path', { d: `M${round(xOf(tick.at))} ${ROW}v${laneHeight}`, stroke: colours.grid }));
  const from = Math.max(0, countBelow(lane.x, range.from) - 1),
    to = Math.min(lane.x.length, countBelow(lane.x, range.to, true) + 1);
  const inside: string[] = [];
  const target = lane.band && lane.lines[lane.band.target];
  if (lane.band && target) {
    const { limitOf } = lane.band;
    for (const [first, end] of stretches(target.line, from, to)) {
      const there = Array.from({ length: end - first }, (_, k) => first + k).filter((i) => typeof target.line[i] === 'number');
      const low = there.map((i) => point(xOf(lane.x[i]), yOf(target.line[i] as number, target.scale)));
      const high = there.map((i) => point(xOf(lane.x[i]), yOf(limitOf(target.line[i] as number), target.scale))).reverse();
      inside.push(tag('path', { d: `M${[...low, ...high].join('L')}Z`, fill: colours.severity.error, 'fill-opacity': 0.14 }));
    }
  }
  for (const { line, colour, dash, scale } of lane.lines) {
    const d = stretches(line, from, to)
      .map(([first, end]) => {
        const points: string[] = [];
        for (let i = first; i < end; i++) {
          const value = line[i];
          if (typeof value === 'number') points.push(point(xOf(lane.x[i]), yOf(value, scale)));
        }
        // A single reading is a dot.
        return `M${points.join('L')}${points.length === 1 ? 'h0.01' : ''}`;
      })
      .join('');
    if (d)
      inside.push(
        tag('path', {
          d,
          fill: 'none',
          stroke: colour,
          'stroke-width': 1.5,
          'stroke-linejoin': 'round',
          'stroke-linecap': 'round',
          'stroke-dasharray': dashed(dash),
        }),
      );
  }
  // A drawing within a drawing cuts off what lies outside, without names that two files could share.
  parts.push(tag('svg', { x: 0, y: ROW, width, height: laneHeight, viewBox: `0 ${ROW} ${width} ${laneHeight}` }, inside.join('')));
  parts.push(tag('rect', { x: 0, y: ROW, width, height: laneHeight, fill: 'none', stroke: colours.grid }));
  return parts.join('\n');
}

const point = (x: number, y: number): string => `${round(x)} ${round(y)}`;

/** Where a line runs on: from and to behind its last point, broken at each null. */
function stretches(line: Line, from: number, to: number): [number, number][] {
  const found: [number, number][] = [];
  let first: number | undefined,
    last = from;
  for (let i = from; i < to; i++) {
    if (typeof line[i] === 'number') {
      first ??= i;
      last = i;
    } else if (line[i] === null && first !== undefined) {
      found.push([first, last + 1]);
      first = undefined;
    }
  }
  if (first !== undefined) found.push([first, last + 1]);
  return found;
}

const axisTicks = ({ from, to }: DrawnPicture['range'], width: number, words: (x: number) => string): { at: number; text: string }[] =>
  ticks(from, to, Math.max(2, width / 110)).map(({ at }) => ({ at, text: words(at) }));

function axisDrawing({ range, width, axisLabel, axisWords }: DrawnPicture): string {
  const labels = axisTicks(range, width, axisWords).map(({ at, text: words }) =>
    text(((at - range.from) / (range.to - range.from)) * width, 14, words, 'middle'),
  );
  return [...labels, text(width / 2, 30, axisLabel, 'middle')].join('\n');
}
