// One lane: some lines over the shared axis, drawn by uPlot, with what lies behind them (spells, the target's band).

import uPlot from 'uplot';
import type { TraceSpell } from '../../server/src/protocol/trace.js';
import type { Dash } from './dashes.js';
import { shaded, type Palette } from './palette.js';
import type { Range } from './state.js';
import type { DrawnLane } from './svgPicture.js';
import { countBelow, extremesOf, type Line } from './tables.js';

export interface LaneLine {
  /** Beside the line. */
  readonly label: string;
  readonly colour: number;
  readonly dash: Dash;
  /** Lines of one scale share a height; the first two scales of a lane have an axis. */
  readonly scale: string;
}

export interface LaneBand {
  readonly target: number;
  readonly limitOf: (target: number) => number;
  readonly label: string;
}

export interface LaneSpec {
  readonly lines: readonly LaneLine[];
  /** Behind the lines of this lane. */
  readonly spells: readonly TraceSpell[];
  /** From the line with this index to its limit. */
  readonly band: LaneBand | undefined;
  readonly fit: boolean;
  readonly showAxis: boolean;
  readonly axisWords: (x: number) => string;
  readonly axisLabel: string;
}

/** Room for the axes left and right, the same in every lane so that they line up, CSS pixels. */
export const LEFT = 48;
export const RIGHT = 48;
export const AXIS_HEIGHT = 36;
const AXIS_LABEL = 16;
const AIR = 0.06;

export class LanePlot {
  private readonly plot: uPlot;
  private whole = new Map<string, readonly [number, number]>();
  private lines: readonly Line[] = [];

  constructor(
    host: HTMLElement,
    private readonly spec: LaneSpec,
    private readonly palette: Palette,
    size: { width: number; height: number },
  ) {
    const scales = [...new Set(spec.lines.map(({ scale }) => scale))];
    const axis = (scale: string | undefined, side: 1 | 3): uPlot.Axis => ({
      scale: scale ?? 'none',
      side,
      show: scale !== undefined,
      size: side === 3 ? LEFT : RIGHT,
      stroke: palette.foreground,
      font: palette.font,
      gap: 4,
      grid: { show: side === 3, stroke: palette.grid, width: 1 },
      ticks: { show: false },
      space: 22,
    });
    this.plot = new uPlot(
      {
        ...size,
        padding: [5, scales.length > 1 ? 0 : RIGHT, spec.showAxis ? 0 : 3, scales.length > 0 ? 0 : LEFT],
        legend: { show: false },
        cursor: { show: false },
        scales: {
          x: { time: false, auto: false, range: (_u, from, to) => [from, to] },
          ...Object.fromEntries(
            scales.map((scale): [string, uPlot.Scale] => [scale, { range: (_u, low, high) => this.heights(scale, low, high) }]),
          ),
        },
        axes: [
          {
            size: spec.showAxis ? AXIS_HEIGHT - AXIS_LABEL : 0,
            stroke: palette.foreground,
            font: palette.font,
            gap: 4,
            ticks: { show: false },
            grid: { stroke: palette.grid, width: 1 },
            values: (_u, splits) => splits.map((at) => (spec.showAxis ? spec.axisWords(at) : '')),
            ...(spec.showAxis ? { label: spec.axisLabel, labelFont: palette.font, labelSize: AXIS_LABEL, labelGap: -2 } : {}),
          },
          axis(scales[0], 3),
          axis(scales[1], 1),
        ],
        series: [
          {},
          ...spec.lines.map((line): uPlot.Series => ({
            label: line.label,
            scale: line.scale,
            stroke: this.colourOf(line),
            width: palette.highContrast ? 2 : 1.5,
            dash: [...line.dash],
          })),
        ],
        hooks: { drawClear: [() => this.drawBehind()] },
      },
      [new Float64Array() as never, ...spec.lines.map(() => [])],
      host,
    );
  }

  /** The lines over the whole session: their extremes are the heights where those do not follow the view. */
  setHeights(whole: readonly Line[]): void {
    this.whole = new Map(
      [...new Set(this.spec.lines.map(({ scale }) => scale))].flatMap((scale) => {
        const found = extremesOf(whole.filter((_, k) => this.spec.lines[k]?.scale === scale));
        return found ? [[scale, found] as const] : [];
      }),
    );
  }

  /** Draws a range, of new lines where there are some; once for both. */
  draw(range: Range, data?: { readonly x: Float64Array; readonly lines: readonly Line[] }): void {
    const show = (): void => this.plot.setScale('x', { min: range.from, max: range.to });
    if (!data) {
      show();
      return;
    }
    this.lines = data.lines;
    this.plot.batch(() => {
      this.plot.setData([data.x as never, ...data.lines.map((line) => line as never)], false);
      show();
    });
  }

  setSize(width: number, height: number): void {
    this.plot.setSize({ width, height });
  }

  /** What is drawn now, for a drawing elsewhere. */
  get drawn(): Omit<DrawnLane, 'head'> {
    const { spec, plot } = this;
    const heights = new Map(
      [...new Set(spec.lines.map(({ scale }) => scale))].map(
        (scale) => [scale, [plot.scales[scale].min ?? 0, plot.scales[scale].max ?? 1]] as const,
      ),
    );
    return {
      x: plot.data[0],
      lines: spec.lines.map((line, k) => ({ line: this.lines[k] ?? [], colour: this.colourOf(line), dash: line.dash, scale: line.scale })),
      heights,
      spells: spec.spells,
      band: spec.band,
    };
  }

  get canvas(): HTMLCanvasElement {
    return this.plot.ctx.canvas;
  }
  /** The part that the lines are drawn in. */
  get over(): HTMLElement {
    return this.plot.over;
  }

  destroy(): void {
    this.plot.destroy();
  }

  private colourOf = ({ colour }: LaneLine): string => this.palette.lines[colour % this.palette.lines.length];

  private heights(scale: string, low: number | null, high: number | null): [number, number] {
    const [from, to] = this.spec.fit && low !== null && high !== null ? [low, high] : (this.whole.get(scale) ?? [low ?? 0, high ?? 1]);
    const air = (to - from || Math.abs(to) * 0.1 || 1) * AIR;
    return [from - air, to + air];
  }

  private inPlot(draw: (ctx: CanvasRenderingContext2D, ratio: number) => void): void {
    const {
      ctx,
      bbox: { left, top, width, height },
    } = this.plot;
    ctx.save();
    ctx.beginPath();
    ctx.rect(left, top, width, height);
    ctx.clip();
    draw(ctx, devicePixelRatio);
    ctx.restore();
  }

  private drawBehind(): void {
    this.inPlot((ctx, ratio) => {
      const {
        bbox: { top, height },
        scales: { x },
      } = this.plot;
      for (const { fromS, toS, severity } of this.spec.spells) {
        if (toS < (x.min ?? 0) || fromS > (x.max ?? 0)) continue;
        const from = this.plot.valToPos(fromS, 'x', true),
          to = Math.max(this.plot.valToPos(toS, 'x', true), from + 2 * ratio);
        ctx.fillStyle = shaded(this.palette.severity[severity], 0.16);
        ctx.fillRect(from, top, to - from, height);
        ctx.strokeStyle = this.palette.severity[severity];
        ctx.lineWidth = ratio;
        ctx.setLineDash(severity === 'error' ? [] : [3 * ratio, 3 * ratio]);
        ctx.strokeRect(from, top - 1, to - from, height + 2);
        ctx.setLineDash([]);
      }
      this.drawBand(ctx);
    });
  }

  private drawBand(ctx: CanvasRenderingContext2D): void {
    const { band, lines } = this.spec;
    const target = band && this.lines[band.target];
    if (!band || !target) return;
    const { scale } = lines[band.target];
    const x = this.plot.data[0];
    const from = Math.max(0, countBelow(x, this.plot.scales.x.min ?? 0) - 1),
      to = Math.min(x.length, countBelow(x, this.plot.scales.x.max ?? 0) + 1);
    ctx.fillStyle = shaded(this.palette.severity.error, 0.14);
    let open: [number, number, number][] = [];
    const close = (): void => {
      if (open.length > 1) {
        ctx.beginPath();
        for (const [px, low] of open) ctx.lineTo(px, low);
        for (const [px, , high] of open.reverse()) ctx.lineTo(px, high);
        ctx.fill();
      }
      open = [];
    };
    for (let i = from; i < to; i++) {
      const value = target[i];
      if (typeof value === 'number')
        open.push([
          this.plot.valToPos(x[i], 'x', true),
          this.plot.valToPos(value, scale, true),
          this.plot.valToPos(band.limitOf(value), scale, true),
        ]);
      else if (value === null) close();
    }
    close();
  }
}
