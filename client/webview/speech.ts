// The plot in words, for a screen reader: what is shown, and the sample at the cursor.

import { fill, type TraceWords } from '../../server/src/protocol/traceWords.js';
import type { TraceSample, TraceSummary } from '../../server/src/protocol/trace.js';
import type { Range, ViewState } from './state.js';
import { readingOf, timeWords } from './units.js';

export const channelName = (summary: TraceSummary, id: string): string => summary.channels.find((channel) => channel.id === id)?.name ?? id;

/** Lanes, span and findings in one or two sentences. */
export function viewWords(state: ViewState, range: Range, summary: TraceSummary, words: TraceWords): string {
  const lanes = state.lanes.map((lane) => lane.map((id) => channelName(summary, id)).join(', ')).join('; ');
  const { from, to } = range;
  if (state.against === 'speed') return fill(words.summaryRuns, words.speed.toLowerCase(), state.runs.length, Math.round(from), `${Math.round(to)} rpm`, lanes);
  if (state.against === 'overlay') return fill(words.summaryRuns, words.timeLabel.toLowerCase(), state.runs.length, from.toFixed(1), `${to.toFixed(1)} s`, lanes);
  const inView = summary.spells.filter(({ fromS, toS }) => toS >= from && fromS <= to).length;
  return fill(words.summary, timeWords(from, to - from), timeWords(to, to - from), lanes, inView);
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
    `${timeWords(sample.timeS, 1)}, ${fill(words.row, sample.line + 1)}`, readings.join(', '), sample.doing,
    ...sample.doubts.map((doubt) => `${words.doubt}: ${doubt}`),
    sample.cell ? fill(words.cell, sample.cell.words) : '',
  ].filter(Boolean).join('. ');
}
