// The scale with its words beside the colours, and the marks that need none.

import type { TableWords } from '../../server/src/protocol/tableWords.js';
import { el } from './dom.js';
import { FACTOR_STEPS_PERCENT, legendWords, STEPS, type Around } from './tableScale.js';
import type { Shown } from './tableState.js';

export function legendOf(shown: Shown, around: Around, words: TableWords): HTMLElement[] {
  const percents =
    shown === 'factor'
      ? [...[...FACTOR_STEPS_PERCENT].reverse().map((percent) => `−${percent}`), ...FACTOR_STEPS_PERCENT.map((percent) => `+${percent}`)]
      : [];
  return [
    el('span', { class: 'swatches', 'aria-hidden': 'true' }, '◂', ...STEPS.map((step) => el('i', { class: `swatch s${step}` })), '▸'),
    ...(percents.length > 0 ? [el('span', { 'aria-hidden': 'true' }, `${percents.join(' ')} %`)] : []),
    el('span', {}, legendWords(shown, around, words)),
    ...(shown === 'factor' || shown === 'evidence' ? [el('span', {}, words.legendProof)] : []),
  ];
}
