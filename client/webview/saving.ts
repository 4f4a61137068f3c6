// What is taken out of the trace: the readings of a span, a picture, a drawing.

import type { Palette } from './palette.js';
import type { LegendEntry, Stack } from './stack.js';
import type { ViewState } from './state.js';
import type { TraceHost } from './view.js';

/** Copies the channels in lanes: between cursor and mark where both are set, else what is shown. */
export function copySpan(host: TraceHost, { lanes, cursorS, markS, range }: ViewState): void {
  const span = cursorS !== undefined && markS !== undefined ? { from: Math.min(cursorS, markS), to: Math.max(cursorS, markS) } : range;
  host.send({ type: 'copy', channels: [...new Set(lanes.flat())], fromS: span.from, toS: span.to });
}

export async function savePicture(host: TraceHost, stack: Stack, palette: Palette): Promise<void> {
  const bytes = await stack.picture(palette);
  if (bytes) host.send({ type: 'savePicture', kind: 'png', bytes });
}

export function saveDrawing(host: TraceHost, stack: Stack, title: string, legend: readonly LegendEntry[], palette: Palette): void {
  const drawing = stack.svg(title, legend, palette);
  if (drawing !== undefined) host.send({ type: 'savePicture', kind: 'svg', bytes: new TextEncoder().encode(drawing) });
}
