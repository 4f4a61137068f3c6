// Faults of the logger's clock: holes, steps back, stamps that repeat.

import type { Recording } from './recording.js';
import { withFault } from './recording.js';
import { findSpell, type Planter } from './places.js';

/** The recording with some samples only. */
const keep = (recording: Recording, wanted: (sample: number) => boolean): Recording => {
  const filter = (values: Float64Array): Float64Array => values.filter((_, sample) => wanted(sample));
  return {
    ...recording,
    timeS: filter(recording.timeS),
    clockS: filter(recording.clockS),
    state: recording.state.filter((_, sample) => wanted(sample)),
    channels: recording.channels.map((channel) => ({ ...channel, values: filter(channel.values) })),
    truth: new Map([...recording.truth].map(([quantity, values]) => [quantity, filter(values)])),
  };
};

const told = {
  severities: ['information', 'warning', 'error'] as const,
  because: 'the log is told to have a fault of time; how loud is a matter of length',
};

/** Visible: 1.5 s or more and ten usual steps or more. */
export const timeHole: Planter = (recording, random) => {
  // a polled drive's own steps may be longer than its rate says
  const steps = recording.timeS
      .slice(1)
      .map((time, at) => time - recording.timeS[at])
      .sort(),
    usualS = Math.max(1 / recording.rateHz, steps[steps.length >> 1]);
  const spell = findSpell(recording, random, Math.max(random.between(1.5, 20), 10.5 * usualS), () => true);
  if (!spell) return undefined;
  const [from, to] = spell;
  const fromS = recording.timeS[from],
    toS = recording.timeS[to + 1];
  return withFault(
    keep(recording, (sample) => sample <= from || sample > to),
    {
      class: 'time: hole',
      spells: [[fromS, toS]],
      codes: ['time-gap'],
      also: [],
      ...told,
      onsets: [[fromS, fromS]],
      twoSamplesS: 2.4 / recording.rateHz,
      note: `${(toS - fromS).toFixed(1)} s`,
    },
  );
};

/** Visible: any step back larger than two usual steps. A step back starts a recording; the session's own time runs on by one step. */
export const timeStepBack: Planter = (recording, random) => {
  if (recording.clockS.some((clock, sample) => sample > 0 && clock < recording.clockS[sample - 1])) return undefined;
  const spell = findSpell(recording, random, 2 / recording.rateHz, () => true);
  if (!spell) return undefined;
  const at = spell[0],
    backS = random.chance(0.5) ? recording.clockS[at] : Math.min(recording.timeS[at] - 0.5, random.between(3 / recording.rateHz + 0.5, 60));
  const clockS = recording.clockS.map((clock, sample) => (sample < at ? clock : clock - backS));
  return withFault(
    { ...recording, clockS },
    {
      class: 'time: step back',
      spells: [[recording.timeS[at], recording.timeS[at]]],
      codes: ['time-reversed'],
      also: ['time-gap', 'time-repeated'],
      ...told,
      onsets: [[recording.timeS[at - 1], recording.timeS[at]]],
      twoSamplesS: 2.4 / recording.rateHz,
      note: `${backS.toFixed(1)} s back`,
    },
  );
};

/** Visible: a stamp that stands four times or more, then time goes on where it should. */
export const timeRepeated: Planter = (recording, random) => {
  const spell = findSpell(recording, random, Math.max(random.between(0.3, 1.5), 4.5 / recording.rateHz), (from, to) => to - from >= 3);
  if (!spell) return undefined;
  const [from, to] = spell;
  const clockS = recording.clockS.map((clock, sample) => (sample > from && sample <= to ? recording.clockS[from] : clock));
  return withFault(
    { ...recording, clockS },
    {
      class: 'time: repeated',
      spells: [[recording.timeS[from], recording.timeS[to]]],
      codes: ['time-repeated'],
      also: ['time-gap'],
      ...told,
      onsets: [[recording.timeS[from], recording.timeS[from]]],
      twoSamplesS: 2.4 / recording.rateHz,
      note: `${to - from} repeats`,
    },
  );
};
