// What the log or the vehicle file says outright: a sensor behind the catalyst, trouble codes.

import { channelOf, withChannel, withFault } from './recording.js';
import { edited, named, type Planter } from './places.js';

/** Visible always: the vehicle says so. The reading is smoothed and drawn to 1, as a catalyst does. */
export const behindCatalyst: Planter = (recording, random) => {
  const channel = channelOf(recording, 'lambda');
  if (!channel || recording.faults.length > 0) return undefined;
  const changed = edited(channel, (values) => {
    let stored = 1;
    values.forEach((value, sample) => {
      if (!Number.isNaN(value)) {
        stored += (value - stored) * Math.min(1, 0.6 / recording.rateHz);
        values[sample] = stored;
      }
    });
  });
  return withFault(
    {
      ...withChannel(recording, changed),
      vehicle: { ...recording.vehicle, lambdaSensor: { mount: random.pick(['downstream', 'downstream', 'tailpipe']) } },
    },
    {
      class: 'sensor behind the catalyst',
      channel: named(channel),
      spells: [],
      codes: ['sensor-mount'],
      also: ['lean-under-load', 'rich-under-load'],
      severities: ['information', 'warning', 'error'],
      because: 'readings behind a catalyst are no evidence: said, at any level',
      twoSamplesS: 0,
      note: 'vehicle file says so',
    },
  );
};

/** Visible always: the codes stand in the notes. */
export const troubleCodes: Planter = (recording, random) => {
  const codes = random
    .shuffled(['P0171', 'P0172', 'P0300', 'P0301', 'P0118', 'P0106', 'P0335', 'P0420', 'U0100', 'P1234'])
    .slice(0, random.whole(1, 3));
  return withFault(
    { ...recording, notes: [...recording.notes, `trouble-codes: ${codes.join(random.pick([', ', ' ']))}`] },
    {
      class: 'trouble code',
      spells: [],
      codes: ['trouble-code'],
      also: [],
      severities: ['information', 'warning', 'error'],
      because: 'the engine computer stored it: told, at the level of the code',
      twoSamplesS: 0,
      note: codes.join(' '),
    },
  );
};
