// The scale with its words beside the colours, and the marks that need none.

import type { TableWords } from '../../server/src/protocol/tableWords.js';
import { el } from './dom.js';
import { FACTOR_STEPS_PERCENT, legendWords, STEPS, type Around } from './tableScale.js';
import type { Shown } from './tableState.js';

export function legendOf(shown: Shown, around: Around, words: TableWords): HTMLElement[] {
  const limits = shown === 'factor' ? ['', ...[...FACTOR_STEPS_PERCENT].reverse().map((percent) => `−${percent}`), ...FACTOR_STEPS_PERCENT.map((percent) => `+${percent}`), ''] : [];
  const swatches = STEPS.map((step) => el('i', { class: `swatch s${step}` }));
  return [
    el('p', { class: 'scale' }, el('span', {}, '◂'), el('span', { class: 'swatches', 'aria-hidden': 'true' }, ...swatches), el('span', {}, '▸')),
    ...(limits.length > 0 ? [el('p', { class: 'scale limits', 'aria-hidden': 'true' }, limits.filter(Boolean).join('  '), ' %')] : []),
    el('p', {}, legendWords(shown, around, words)),
    ...(shown === 'factor' || shown === 'evidence' ? [el('p', { class: 'faint' }, words.legendProof)] : []),
  ];
}
