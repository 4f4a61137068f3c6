// Two loggers' sessions read as one: the second's channels on the first's rows, each row that has a new reading of theirs at that row's own
// moment.

import type { Channel, Session, SessionPlaces } from '../../formats/session/session.js';
import { QUANTITIES } from '../../quantities/quantity.js';
import { formatNumber } from '../../quantities/format.js';
import type { ClockLine } from './candidates.js';
import { matchClocks, type ClockMatch } from './matchClocks.js';
import { seriesOf } from './series.js';

/** Over this many of its own steps a reading is carried to the row that shows it. */
const CARRIED_STEPS = 2.5;

/**
 * `first` with the second's channels, or as it was with the reason; `path` is how the second is called. Quantities that the first has stay
 * the first's.
 */
export function joinInMemory(first: Session, second: Session, path: string): Session {
  const match = matchClocks(first, second);
  if ('refused' in match) return { ...first, joined: { path, refused: match.refused } };
  const own = new Set(first.channels.flatMap(({ quantity, filled }) => (quantity !== undefined && filled > 0 ? [quantity] : [])));
  const taken = new Set(first.channels.map(({ header }) => header.toLowerCase()));
  const added = second.channels.filter(
    ({ quantity, header, filled }) => filled > 0 && !(quantity !== undefined && own.has(quantity)) && !taken.has(header.toLowerCase()),
  );
  const channels = added.map((channel, at): Channel => {
    const values = onRows(first.timeS, channel, second.timeS, match);
    return {
      ...channel,
      index: first.channels.length + at,
      headerRange: { start: first.headerRange.start, end: first.headerRange.start },
      values,
      filled: values.reduce((count, value) => (Number.isNaN(value) ? count : count + 1), 0),
    };
  });
  return {
    ...first,
    channels: [...first.channels, ...channels],
    places: placesWith(first.places, first.channels.length),
    joined: { path, how: matchWords(match), quantities: added.flatMap(({ quantity }) => quantity ?? []), spanS: spanOf(second, match) },
  };
}

/** When the second began and ended, by the first's clock. */
export const spanOf = ({ timeS }: Session, { offsetS, drift }: ClockLine): readonly [from: number, to: number] => [
  offsetS + (1 + drift) * (timeS[0] ?? 0),
  offsetS + (1 + drift) * (timeS[timeS.length - 1] ?? 0),
];

/** `engine speed (correlation 0.998 over 512 s, windows within 12 ms), its clock 3.214 s behind and 45 ppm slow`. */
export function matchWords({ quantity, correlation, overlapS, residualS, offsetS, drift, gain }: ClockMatch): string {
  const timed = Number.isNaN(residualS) ? '' : `, parts of it within ${formatNumber(residualS * 1000, 0)} ms`;
  const ppm = Math.round(drift * 1e6);
  const scaled =
    Math.abs(gain - 1) > 0.02 ? `; the first's ${QUANTITIES[quantity].title} is ${formatNumber(gain, 3)} times the second's` : '';
  return (
    `by ${QUANTITIES[quantity].title} (correlation ${formatNumber(correlation, 3)} over ${formatNumber(overlapS, 0)} s${timed}); ` +
    `0 s of the second is ${formatNumber(offsetS, 3)} s of the first, and its clock runs ${ppm === 0 ? 'even' : `${Math.abs(ppm)} ppm ${ppm > 0 ? 'slow' : 'fast'}`}${scaled}`
  );
}

function onRows(rowsS: Float64Array, channel: Channel, secondS: Float64Array, { offsetS, drift }: ClockLine): Float64Array {
  const values = new Float64Array(rowsS.length).fill(NaN);
  const series = seriesOf(channel, secondS);
  const times = series.timeS.map((timeS) => offsetS + (1 + drift) * timeS);
  const carriedS = CARRIED_STEPS * series.stepS;
  const interpolate = channel.quantity !== undefined && QUANTITIES[channel.quantity].between === 'interpolate';
  let [reading, shown] = [-1, -1];
  for (let row = 0; row < rowsS.length; row++) {
    const atS = rowsS[row];
    while (reading + 1 < times.length && times[reading + 1] <= atS) reading++;
    if (reading < 0 || reading === shown) continue;
    shown = reading;
    const ageS = atS - times[reading];
    const nextS = reading + 1 < times.length ? times[reading + 1] - times[reading] : Infinity;
    if (ageS > carriedS && nextS > carriedS) continue;
    values[row] =
      series.values[reading] +
      (interpolate && nextS <= carriedS ? ((series.values[reading + 1] - series.values[reading]) * ageS) / nextS : 0);
  }
  return values;
}

/** A channel of the other file has no cell in this one: its place is the row's own, by its time. */
const placesWith = (places: SessionPlaces, own: number): SessionPlaces => ({
  ...places,
  cellRange: (channel, sample) => places.cellRange(channel < own ? channel : -1, sample),
  spanRange: (channel, from, to) => places.spanRange(channel < own ? channel : -1, from, to),
  cellText: (channel, sample) => (channel < own ? places.cellText(channel, sample) : ''),
});
