// The bar above the lanes.

import type { TraceWords } from '../../server/src/protocol/traceWords.js';
import { button, choice, el } from './dom.js';
import type { Act } from './keys.js';
import type { Against } from './state.js';

/** What the lanes may be drawn against, in the order of the switch. */
export const EVERY_WAY: readonly Against[] = ['time', 'speed', 'overlay'];

/** Made anew at each change; the focus stays where it was. */
export function fillBar(
  bar: HTMLElement,
  against: Against,
  words: TraceWords,
  acts: { readonly against: (way: Against) => void; readonly do: (act: Act) => void },
): void {
  const ways: Readonly<Record<Against, string>> = { time: words.time, speed: words.speed, overlay: words.overlay };
  const focused =
    document.activeElement instanceof HTMLElement && bar.contains(document.activeElement) ? document.activeElement.dataset.keep : undefined;
  bar.replaceChildren(
    choice(
      'against',
      words.against,
      EVERY_WAY.map((way) => [way, ways[way]] as const),
      against,
      acts.against,
    ),
    el('span', { class: 'push' }),
    button(words.whole, () => acts.do({ do: 'whole' }), { 'data-keep': 'whole' }),
    button('−', () => acts.do({ do: 'zoom', factor: 2 }), { 'aria-label': words.zoomOut, title: words.zoomOut, 'data-keep': 'out' }),
    button('+', () => acts.do({ do: 'zoom', factor: 0.5 }), { 'aria-label': words.zoomIn, title: words.zoomIn, 'data-keep': 'in' }),
    button(words.keys, () => acts.do({ do: 'help' }), { 'data-keep': 'keys' }),
  );
  if (focused) bar.querySelector<HTMLElement>(`[data-keep="${focused}"]`)?.focus();
}
