// The lanes one below the other over one axis: their heads, their plots, the lines of cursor and mark, and what the hand does on them.

import type { TraceWords } from '../../server/src/protocol/traceWords.js';
import { fill } from '../../server/src/protocol/traceWords.js';
import { el, signButton } from './dom.js';
import { AXIS_HEIGHT, LanePlot, LEFT, RIGHT, type LaneSpec } from './lanePlot.js';
import type { Dash } from './dashes.js';
import type { Palette } from './palette.js';
import { moved, zoomed, type Range } from './state.js';
import { svgPicture } from './svgPicture.js';
import type { Line } from './tables.js';

export interface LaneView {
  readonly spec: LaneSpec;
  readonly x: Float64Array;
  readonly lines: readonly Line[];
  /** The lines over the whole session. */
  readonly whole: () => readonly Line[];
  /** Channels of the lane, for its head. */
  readonly chips: readonly {
    readonly id: string;
    readonly name: string;
    readonly unit: string;
    readonly colour: number;
    readonly dash: Dash;
  }[];
  /** A lane that is worked out can't be moved. */
  readonly fixed: boolean;
}

/** A run's name beside a piece of its line. */
export interface LegendEntry {
  readonly name: string;
  readonly colour: number;
  readonly dash: Dash;
}

export interface StackActs {
  range(): Range;
  setRange(range: Range): void;
  /** `undefined`: the pointer has left. */
  look(x: number | undefined): void;
  place(x: number): void;
  mark(x: number): void;
  laneMove(lane: number, by: -1 | 1): void;
  laneJoin(lane: number): void;
  laneRemove(lane: number): void;
  takeOut(id: string): void;
  focusLane(lane: number): void;
}

/** Lower than this a lane shows nothing; the stack scrolls instead, CSS pixels. */
const LEAST_LANE = 44;
const HEAD = 22;
/** The pointer must travel so far for a press to be a drag, CSS pixels. */
const DRAG = 4;
const WHEEL_STEP = 1.0018;

export class Stack {
  readonly element = el('div', { class: 'stack' });
  private readonly lanes = el('div', { class: 'lanes' });
  private readonly lines = {
    look: el('div', { class: 'line look', hidden: true }),
    cursor: el('div', { class: 'line cursor', hidden: true }),
    mark: el('div', { class: 'line mark', hidden: true }),
    select: el('div', { class: 'select', hidden: true }),
  };
  private plots: LanePlot[] = [];
  private heads: HTMLElement[] = [];
  private views: readonly LaneView[] = [];
  private at: { cursor?: number; mark?: number } = {};

  constructor(
    private readonly acts: StackActs,
    private readonly words: TraceWords,
  ) {
    this.element.append(this.lanes, ...Object.values(this.lines));
    this.listen();
  }

  get plotWidth(): number {
    return Math.max(50, this.lanes.clientWidth - LEFT - RIGHT);
  }

  /** Draws all lanes anew. */
  build(views: readonly LaneView[], palette: Palette): void {
    this.plots.forEach((plot) => plot.destroy());
    this.lanes.replaceChildren();
    const size = this.sizes(views.length);
    this.heads = [];
    this.views = views;
    this.plots = views.map((view, lane) => {
      const host = el('div', { class: 'plot' });
      const head = this.headOf(view, lane, views.length, palette);
      this.heads.push(head);
      this.lanes.append(
        el(
          'div',
          { class: 'lane', role: 'group', 'aria-label': fill(this.words.laneOf, lane + 1, view.chips.map(({ name }) => name).join(', ')) },
          head,
          host,
        ),
      );
      const plot = new LanePlot(host, view.spec, palette, {
        width: size.width,
        height: size.height + (view.spec.showAxis ? AXIS_HEIGHT : 0),
      });
      plot.setHeights(view.whole());
      plot.draw(this.acts.range(), view);
      return plot;
    });
    this.placeLines();
  }

  /** Draws the range shown, of new numbers where there are some. */
  draw(views?: readonly LaneView[]): void {
    const range = this.acts.range();
    this.plots.forEach((plot, lane) => plot.draw(range, views?.[lane]));
    this.placeLines();
  }

  setHeights(views: readonly LaneView[]): void {
    views.forEach(({ whole }, lane) => this.plots[lane]?.setHeights(whole()));
  }

  resize(): void {
    const { width, height } = this.sizes(this.plots.length);
    this.plots.forEach((plot, lane) => plot.setSize(width, height + (lane === this.plots.length - 1 ? AXIS_HEIGHT : 0)));
    this.placeLines();
  }

  setLines(cursor: number | undefined, mark: number | undefined): void {
    this.at = { cursor, mark };
    this.placeLines();
  }

  showLane(lane: number): void {
    this.heads.forEach((head, index) => head.classList.toggle('current', index === lane));
  }

  /** The lanes as a drawing of lines and text; nothing where there are none. */
  svg(title: string, legend: readonly LegendEntry[], palette: Palette): string | undefined {
    const last = this.views.at(-1);
    if (!last) return undefined;
    const colourOf = (colour: number): string => palette.lines[colour % palette.lines.length];
    return svgPicture({
      title,
      legend: legend.map((entry) => ({ ...entry, colour: colourOf(entry.colour) })),
      range: this.acts.range(),
      lanes: this.plots.map((plot, lane) => ({
        ...plot.drawn,
        head: this.views[lane].chips.map((chip) => ({ ...chip, colour: colourOf(chip.colour) })),
      })),
      axisLabel: last.spec.axisLabel,
      axisWords: last.spec.axisWords,
      width: Math.round(this.plotWidth),
      laneHeight: this.sizes(this.plots.length).height,
      colours: { foreground: palette.foreground, background: palette.background, grid: palette.grid, severity: palette.severity },
    });
  }

  /** The lanes as one picture. */
  async picture(palette: Palette): Promise<Uint8Array | undefined> {
    const canvases = this.plots.map(({ canvas }) => canvas);
    if (canvases.length === 0) return undefined;
    const gap = Math.round(4 * devicePixelRatio);
    const whole = el('canvas', { width: canvases[0].width, height: canvases.reduce((sum, { height }) => sum + height + gap, 0) });
    const ctx = whole.getContext('2d')!;
    ctx.fillStyle = palette.background;
    ctx.fillRect(0, 0, whole.width, whole.height);
    let top = 0;
    for (const canvas of canvases) {
      ctx.drawImage(canvas, 0, top);
      top += canvas.height + gap;
    }
    const blob = await new Promise<Blob | null>((done) => whole.toBlob(done, 'image/png'));
    return blob ? new Uint8Array(await blob.arrayBuffer()) : undefined;
  }

  private sizes(count: number): { width: number; height: number } {
    const free = this.element.clientHeight - AXIS_HEIGHT - count * (HEAD + 2);
    return { width: Math.max(200, this.lanes.clientWidth), height: Math.max(LEAST_LANE, Math.floor(free / Math.max(1, count))) };
  }

  private headOf(view: LaneView, lane: number, count: number, palette: Palette): HTMLElement {
    const { words, acts } = this;
    const chips = view.chips.map(({ id, name, unit, colour, dash }) =>
      el(
        'span',
        { class: 'chip' },
        swatch(palette, colour, dash),
        el('span', { class: 'name', title: name }, name),
        el('span', { class: 'faint' }, unit),
        ...(view.chips.length > 1 && !view.fixed
          ? [signButton('⤓', fill(words.takeOut, name), () => acts.takeOut(id), { tabindex: -1 })]
          : []),
      ),
    );
    const buttons = view.fixed
      ? []
      : [
          signButton('↑', words.laneUp, () => acts.laneMove(lane, -1), { disabled: lane === 0, tabindex: -1 }),
          signButton('↓', words.laneDown, () => acts.laneMove(lane, 1), { disabled: lane === count - 1, tabindex: -1 }),
          signButton('⤒', words.laneJoin, () => acts.laneJoin(lane), { disabled: lane === 0, tabindex: -1 }),
          signButton('✕', words.laneRemove, () => acts.laneRemove(lane), { tabindex: -1 }),
        ];
    return el('div', { class: 'head' }, ...chips, el('span', { class: 'acts' }, ...buttons));
  }

  private placeLines(): void {
    const { from, to } = this.acts.range();
    const place = (line: HTMLElement, x: number | undefined): void => {
      const inside = x !== undefined && x >= from && x <= to;
      line.hidden = !inside;
      if (inside) line.style.transform = `translateX(${LEFT + ((x - from) / (to - from)) * this.plotWidth}px)`;
    };
    place(this.lines.cursor, this.at.cursor);
    place(this.lines.mark, this.at.mark);
  }

  private xAt(clientX: number, range = this.acts.range()): number {
    const along = (clientX - this.lanes.getBoundingClientRect().left - LEFT) / this.plotWidth;
    return range.from + Math.min(1, Math.max(0, along)) * (range.to - range.from);
  }

  private listen(): void {
    let press: { x: number; range: Range; way: 'press' | 'pan' | 'select' } | undefined;
    const onPlot = (event: Event): boolean => event.target instanceof Element && event.target.closest('.plot') !== null;
    this.lanes.addEventListener('pointerdown', (event) => {
      if (event.button !== 0 || !onPlot(event)) return;
      press = { x: event.clientX, range: this.acts.range(), way: 'press' };
      this.lanes.setPointerCapture(event.pointerId);
    });
    this.lanes.addEventListener('pointermove', (event) => {
      if (!press) {
        if (onPlot(event)) this.lookAt(event.clientX);
        else this.lookAway();
        return;
      }
      const byPixels = event.clientX - press.x;
      if (press.way === 'press' && Math.abs(byPixels) > DRAG) press.way = event.shiftKey ? 'select' : 'pan';
      if (press.way === 'pan') this.acts.setRange(moved(press.range, -(byPixels / this.plotWidth) * (press.range.to - press.range.from)));
      if (press.way === 'select') this.select(press.x, event.clientX);
    });
    this.lanes.addEventListener('pointerup', (event) => {
      const ended = press;
      press = undefined;
      this.lines.select.hidden = true;
      if (!ended) return;
      const [a, b] = [this.xAt(ended.x, ended.range), this.xAt(event.clientX)];
      if (ended.way === 'select') this.acts.setRange({ from: Math.min(a, b), to: Math.max(a, b) });
      if (ended.way !== 'press') return;
      const lane = [...this.lanes.children].findIndex((child) => event.clientY < child.getBoundingClientRect().bottom);
      if (lane >= 0) this.acts.focusLane(lane);
      if (event.altKey) this.acts.mark(b);
      else this.acts.place(b);
    });
    this.lanes.addEventListener('pointercancel', () => {
      press = undefined;
      this.lines.select.hidden = true;
    });
    this.lanes.addEventListener('pointerleave', () => {
      if (!press) this.lookAway();
    });
    this.lanes.addEventListener(
      'wheel',
      (event) => {
        if (!onPlot(event)) return;
        event.preventDefault();
        const range = this.acts.range();
        const sideways = event.shiftKey ? event.deltaY || event.deltaX : Math.abs(event.deltaX) > Math.abs(event.deltaY) ? event.deltaX : 0;
        if (sideways !== 0) this.acts.setRange(moved(range, (sideways / this.plotWidth) * (range.to - range.from)));
        else this.acts.setRange(zoomed(range, WHEEL_STEP ** event.deltaY, this.xAt(event.clientX)));
      },
      { passive: false },
    );
  }

  private lookAt(clientX: number): void {
    const x = this.xAt(clientX);
    const { from, to } = this.acts.range();
    this.lines.look.hidden = false;
    this.lines.look.style.transform = `translateX(${LEFT + ((x - from) / (to - from)) * this.plotWidth}px)`;
    this.acts.look(x);
  }

  private lookAway(): void {
    if (this.lines.look.hidden) return;
    this.lines.look.hidden = true;
    this.acts.look(undefined);
  }

  private select(fromX: number, toX: number): void {
    const left = this.lanes.getBoundingClientRect().left;
    this.lines.select.hidden = false;
    this.lines.select.style.left = `${Math.min(fromX, toX) - left}px`;
    this.lines.select.style.width = `${Math.abs(toX - fromX)}px`;
  }
}

/** A piece of the line as it is drawn. */
export function swatch(palette: Palette, colour: number, dash: Dash): SVGElement {
  const svg = document.createElementNS('http://www.w3.org/2000/svg', 'svg');
  svg.setAttribute('class', 'swatch');
  svg.setAttribute('aria-hidden', 'true');
  const line = document.createElementNS('http://www.w3.org/2000/svg', 'line');
  for (const [name, value] of Object.entries({
    x1: 0,
    x2: 26,
    y1: 5,
    y2: 5,
    'stroke-width': 2,
    stroke: palette.lines[colour % palette.lines.length],
    'stroke-dasharray': dash.join(' '),
  }))
    line.setAttribute(name, String(value));
  svg.append(line);
  return svg;
}
