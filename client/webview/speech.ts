// The plot in words, for a screen reader: what is shown, and the sample at the cursor.

import { fill, type TraceWords } from '../../server/src/protocol/traceWords.js';
import type { TraceSample, TraceSummary } from '../../server/src/protocol/trace.js';
import { fixed } from './numbers.js';
import type { Range, ViewState } from './state.js';
import { readingOf, timeWords } from './units.js';

export const channelName = (summary: TraceSummary, id: string): string => summary.channels.find((channel) => channel.id === id)?.name ?? id;

/** What is shown, in few words: the lanes' heads say the rest to who sees them. */
export function shownWords(state: ViewState, range: Range, summary: TraceSummary, words: TraceWords): string {
  const { from, to } = ends(state, range);
  return state.against === 'time' ? fill(words.view, from, to, inView(range, summary)) : fill(words.viewRuns, state.runs.length, from, to);
}

/** The ends of what is shown, as its axis counts. */
function ends({ against }: ViewState, { from, to }: Range): { readonly from: string; readonly to: string } {
  if (against === 'time') return { from: timeWords(from, to - from), to: timeWords(to, to - from) };
  return against === 'speed'
    ? { from: String(Math.round(from)), to: `${Math.round(to)} rpm` }
    : { from: fixed(from, 1), to: `${fixed(to, 1)} s` };
}

/** Over a picture that is saved: the session, and what of it is shown. */
export function pictureTitle(state: ViewState, range: Range, summary: TraceSummary, words: TraceWords): string {
  const { from, to } = ends(state, range);
  return fill(words.pictureTitle, summary.name, from, to);
}

const inView = ({ from, to }: Range, { spells }: TraceSummary): number =>
  spells.filter(({ fromS, toS }) => toS >= from && fromS <= to).length;

/** Lanes, span and findings in one or two sentences. */
export function viewWords(state: ViewState, range: Range, summary: TraceSummary, words: TraceWords): string {
  const lanes = state.lanes.map((lane) => lane.map((id) => channelName(summary, id)).join(', ')).join('; ');
  const { from, to } = ends(state, range);
  if (state.against === 'time') return fill(words.summary, from, to, lanes, inView(range, summary));
  return fill(
    words.summaryRuns,
    (state.against === 'speed' ? words.speed : words.timeLabel).toLowerCase(),
    state.runs.length,
    from,
    to,
    lanes,
  );
}

/** The readings of the channels in lanes, what the engine was doing, what is not to be believed, the cell. */
export function sampleWords(sample: TraceSample, state: ViewState, summary: TraceSummary, words: TraceWords): string {
  const shown = new Set(state.lanes.flat());
  const readings = summary.channels.flatMap((channel, index) => {
    const value = sample.values[index];
    if (!shown.has(channel.id) || value === null || value === undefined) return [];
    const reading = readingOf(channel, summary, state.units);
    return [`${channel.name} ${reading.format(reading.convert(value))} ${reading.symbol}`.trim()];
  });
  return [
    `${timeWords(sample.timeS, 1)}, ${fill(words.row, sample.line + 1)}`,
    readings.join(', '),
    sample.doing,
    ...sample.doubts.map((doubt) => `${words.doubt}: ${doubt}`),
    sample.cell ? fill(words.cell, sample.cell.words) : '',
  ]
    .filter(Boolean)
    .join('. ');
}
