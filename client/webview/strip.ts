// The whole session in one strip below the lanes: its engine speed, pulls and findings, and the range that is shown, to be moved by hand or
// keys.

import type { TraceSummary } from '../../server/src/protocol/trace.js';
import { el } from './dom.js';
import { LEFT, RIGHT } from './lanePlot.js';
import { shaded, type Palette } from './palette.js';
import type { Range } from './state.js';
import type { Line } from './tables.js';
import { extremesOf } from './tables.js';
import { timeWords } from './units.js';

const HEIGHT = 44;
/** Within so many pixels of its end the range is stretched rather than moved. */
const GRIP = 6;

export class Strip {
  readonly element: HTMLElement;
  private readonly canvas = el('canvas', { 'aria-hidden': 'true' });
  private shown: { summary: TraceSummary; palette: Palette; x: Float64Array; line: Line | undefined } | undefined;
  private range: Range = { from: 0, to: 1 };

  constructor(
    label: string,
    private readonly setRange: (range: Range) => void,
  ) {
    this.element = el(
      'div',
      {
        class: 'strip',
        role: 'scrollbar',
        'aria-orientation': 'horizontal',
        'aria-controls': 'plots',
        'aria-label': label,
        'aria-valuenow': '0',
        tabindex: 0,
      },
      this.canvas,
    );
    this.listen();
  }

  show(summary: TraceSummary, palette: Palette, x: Float64Array, line: Line | undefined, range: Range): void {
    this.shown = { summary, palette, x, line };
    this.element.setAttribute('aria-valuemin', '0');
    this.element.setAttribute('aria-valuemax', String(Math.round(summary.toS - summary.fromS)));
    this.draw(range);
  }

  draw(range: Range): void {
    this.range = range;
    const width = this.element.clientWidth,
      ratio = devicePixelRatio;
    if (!this.shown || width === 0) return;
    const { summary, palette, x, line } = this.shown;
    this.element.setAttribute('aria-valuenow', String(Math.round(range.from - summary.fromS)));
    this.element.setAttribute(
      'aria-valuetext',
      `${timeWords(range.from, range.to - range.from)} – ${timeWords(range.to, range.to - range.from)}`,
    );
    if (this.canvas.width !== Math.round(width * ratio)) {
      this.canvas.width = Math.round(width * ratio);
      this.canvas.height = HEIGHT * ratio;
    }
    const ctx = this.canvas.getContext('2d')!;
    ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
    ctx.clearRect(0, 0, width, HEIGHT);
    const at = (timeS: number): number => LEFT + ((timeS - summary.fromS) / (summary.toS - summary.fromS)) * (width - LEFT - RIGHT);
    ctx.font = palette.font;
    let labelled = -Infinity;
    for (const { pull, fromS, toS } of summary.runs) {
      if (pull === 0) continue;
      ctx.fillStyle = shaded(palette.foreground, 0.14);
      ctx.fillRect(at(fromS), 10, Math.max(2, at(toS) - at(fromS)), HEIGHT - 10);
      ctx.fillStyle = palette.foreground;
      // Where pulls lie close, not every one is numbered.
      if (at(fromS) < labelled) continue;
      ctx.fillText(String(pull), at(fromS), 9);
      labelled = at(fromS) + ctx.measureText(String(pull)).width + 4;
    }
    const heights = line && extremesOf([line]);
    if (line && heights) {
      ctx.strokeStyle = palette.faint;
      ctx.lineWidth = 1;
      ctx.beginPath();
      let down = false;
      for (let i = 0; i < x.length; i++) {
        const value = line[i];
        if (typeof value !== 'number') {
          down = false;
          continue;
        }
        const y = HEIGHT - 4 - ((value - heights[0]) / (heights[1] - heights[0] || 1)) * (HEIGHT - 18);
        if (down) ctx.lineTo(at(x[i]), y);
        else ctx.moveTo(at(x[i]), y);
        down = true;
      }
      ctx.stroke();
    }
    for (const { fromS, toS, severity } of summary.spells) {
      ctx.fillStyle = palette.severity[severity];
      const height = severity === 'error' ? 6 : severity === 'warning' ? 4 : 2;
      ctx.fillRect(at(fromS), HEIGHT - height, Math.max(2, at(toS) - at(fromS)), height);
    }
    ctx.fillStyle = shaded(palette.background, 0.6);
    ctx.fillRect(LEFT, 0, at(range.from) - LEFT, HEIGHT);
    ctx.fillRect(at(range.to), 0, width - RIGHT - at(range.to), HEIGHT);
    ctx.strokeStyle = palette.accent;
    ctx.lineWidth = 2;
    ctx.strokeRect(at(range.from), 1, Math.max(3, at(range.to) - at(range.from)), HEIGHT - 2);
  }

  private listen(): void {
    const { element } = this;
    let press: { x: number; range: Range; part: 'from' | 'to' | 'all' } | undefined;
    const perPixel = (): number => {
      const { fromS, toS } = this.shown!.summary;
      return (toS - fromS) / Math.max(1, element.clientWidth - LEFT - RIGHT);
    };
    element.addEventListener('pointerdown', (event) => {
      if (!this.shown || event.button !== 0) return;
      const when = this.shown.summary.fromS + (event.clientX - element.getBoundingClientRect().left - LEFT) * perPixel();
      const { from, to } = this.range;
      const near = (end: number): boolean => Math.abs(when - end) < GRIP * perPixel();
      let range = this.range;
      const part = near(from) ? 'from' : near(to) ? 'to' : 'all';
      if (part === 'all' && (when < from || when > to))
        this.setRange((range = { from: when - (to - from) / 2, to: when + (to - from) / 2 }));
      press = { x: event.clientX, range, part };
      element.setPointerCapture(event.pointerId);
    });
    element.addEventListener('pointermove', (event) => {
      if (!press) return;
      const by = (event.clientX - press.x) * perPixel();
      const { from, to } = press.range;
      const next = { from: press.part === 'to' ? from : from + by, to: press.part === 'from' ? to : to + by };
      if (next.from < next.to) this.setRange(next);
    });
    for (const end of ['pointerup', 'pointercancel'])
      element.addEventListener(end, () => {
        press = undefined;
      });
    element.addEventListener('keydown', (event) => {
      const { from, to } = this.range,
        length = to - from;
      const by = { ArrowLeft: -0.1, ArrowRight: 0.1, PageUp: -1, PageDown: 1 }[event.key];
      if (by === undefined) return;
      event.preventDefault();
      event.stopPropagation();
      this.setRange({ from: from + by * length, to: to + by * length });
    });
  }
}
