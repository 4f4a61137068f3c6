// Findings and runs as lists beside the lanes: a click shows the spell or the pull, ticks choose what is laid over each other.

import type { RunRef, TraceSpell, TraceSummary } from '../../server/src/protocol/trace.js';
import { fill, type TraceWords } from '../../server/src/protocol/traceWords.js';
import { RUN_ROUNDS, runDash } from './dashes.js';
import { button, el } from './dom.js';
import type { Palette } from './palette.js';
import { swatch } from './stack.js';
import type { ViewState } from './state.js';
import { timeWords } from './units.js';

export const runName = (summary: TraceSummary, run: number, words: TraceWords): string => {
  const { pull, direction, fromS } = summary.runs[run];
  return pull > 0 ? `${fill(words.pull, pull)}${direction === 'down' ? ' ↓' : ''}` : fill(words.down, timeWords(fromS, 100));
};

/** How often the colours have begun anew before a run, by its place among those laid over each other. */
export const roundOf = (place: number, colours: number): number => Math.floor(place / colours);

/** The name of a run over others: with what its line is made of, where another has its colour. */
export const overlaidName = (of: TraceSummary, run: number, round: number, isOwn: boolean, words: TraceWords): string => {
  const name = isOwn ? runName(of, run, words) : `${runName(of, run, words)}, ${of.name}`;
  const line = ['', words.lineShort, words.lineLong, words.lineLongShort, words.lineLongTwoShort, words.lineTwoLongShort][
    round % RUN_ROUNDS
  ];
  return line ? fill(words.runLine, name, line) : name;
};

const SIGN: Readonly<Record<TraceSpell['severity'], string>> = { error: '✖', warning: '▲', information: '●', hint: '·' };

export function findingList(summary: TraceSummary, words: TraceWords, open: (spell: TraceSpell) => void): HTMLElement {
  const items = summary.spells.map((spell) =>
    el(
      'li',
      {},
      el(
        'button',
        { type: 'button', class: `finding ${spell.severity}`, onclick: () => open(spell) },
        el('span', { class: 'severity', 'aria-label': words[spell.severity], role: 'img' }, SIGN[spell.severity]),
        ` ${timeWords(spell.fromS, 30)} `,
        el('span', { class: 'code' }, spell.code),
        ` ${spell.message}`,
      ),
    ),
  );
  return el(
    'section',
    {},
    el('h2', {}, words.findings),
    items.length > 0 ? el('ul', {}, ...items) : el('p', { class: 'faint' }, words.noFindings),
  );
}

export interface RunActs {
  choose(ref: RunRef, chosen: boolean): void;
  show(run: number): void;
  align(by: ViewState['align'], rpm: number): void;
  addSession(): void;
}

export function runList(
  state: ViewState,
  summary: TraceSummary,
  others: readonly TraceSummary[],
  words: TraceWords,
  palette: Palette,
  acts: RunActs,
): HTMLElement {
  const chosen = new Set(state.runs.map(({ uri, run }) => `${uri} ${run}`));
  const item = (of: TraceSummary, run: number): HTMLElement => {
    const name = runName(of, run, words);
    const box = el('input', {
      type: 'checkbox',
      'aria-label': fill(words.layOver, of === summary ? name : `${name}, ${of.name}`),
      onchange: () => acts.choose({ uri: of.uri, run }, box.checked),
    });
    box.checked = chosen.has(`${of.uri} ${run}`);
    const place = state.against === 'time' ? -1 : state.runs.findIndex((ref) => ref.uri === of.uri && ref.run === run);
    return el(
      'li',
      {},
      box,
      ...(place >= 0 ? [swatch(palette, place, runDash(roundOf(place, palette.lines.length), of.runs[run].direction === 'down', 0))] : []),
      of === summary ? button(name, () => acts.show(run), { 'aria-label': fill(words.zoomTo, name) }) : el('span', {}, name),
      el('span', { class: 'faint' }, of.runs[run].words),
    );
  };
  const lists = [summary, ...others].flatMap((of) => [
    ...(of === summary ? [] : [el('h3', {}, of.name)]),
    of.runs.length > 0 ? el('ul', {}, ...of.runs.map((_, run) => item(of, run))) : el('p', { class: 'faint' }, words.noRuns),
  ]);
  const rpm = el('input', {
    type: 'number',
    min: 500,
    max: 20000,
    step: 100,
    value: state.alignRpm,
    'aria-label': words.alignSpeed,
    onchange: () => acts.align(state.align, rpm.valueAsNumber || state.alignRpm),
  });
  const by = el(
    'select',
    { id: 'align', onchange: () => acts.align(by.value as ViewState['align'], state.alignRpm) },
    ...(
      [
        ['start', words.alignStart],
        ['speed', words.alignSpeed],
        ['match', words.alignMatch],
      ] as const
    ).map(([value, label]) => el('option', { value, selected: value === state.align }, label)),
  );
  const align =
    state.against === 'overlay'
      ? [el('p', {}, el('label', { for: 'align' }, `${words.align} `), by, ...(state.align === 'speed' ? [' ', rpm, ' rpm'] : []))]
      : [];
  return el('section', { class: 'runs' }, el('h2', {}, words.runs), ...align, ...lists, button(words.addSession, acts.addSession));
}
