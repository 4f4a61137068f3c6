// A session in memory without a text: millions of samples of invented channels, for measuring what draws and analyses them.

import type { Channel, Session } from '../../server/src/formats/session/session.js';
import { Shelf } from '../../server/src/formats/shelf.js';
import { range } from '../../server/src/formats/range.js';
import { QUANTITIES, type QuantityId } from '../../server/src/quantities/quantity.js';
import { UNITS } from '../../server/src/quantities/units.js';

const SHAPES: Readonly<Record<string, (timeS: number, noise: number) => number>> = {
  'engine-speed': (t, n) => 2800 + 1600 * Math.sin(t / 9) + 900 * Math.sin(t / 37) + 20 * n,
  'manifold-pressure': (t, n) => 90 + 55 * Math.sin(t / 11) + 2 * n,
  throttle: (t, n) => 45 + 40 * Math.sin(t / 11) + n,
  lambda: (t, n) => 0.95 + 0.08 * Math.sin(t / 5) + 0.01 * n,
  'target-lambda': (t) => 0.95 + 0.05 * Math.sin(t / 11),
  'ignition-advance': (t, n) => 22 + 9 * Math.sin(t / 8) + 0.3 * n,
  'vehicle-speed': (t, n) => 80 + 50 * Math.sin(t / 37) + 0.2 * n,
  'fuel-pressure': (t, n) => 300 + 20 * Math.sin(t / 3) + 3 * n,
};

export const SYNTHETIC_CHANNELS = Object.keys(SHAPES) as QuantityId[];

/** `rateHz` samples a second; one-sample noise throughout. `channels` repeat the shapes where they are more than those. */
export function syntheticSession(samples: number, rateHz: number, channels: readonly QuantityId[] = SYNTHETIC_CHANNELS): Session {
  const timeS = Float64Array.from({ length: samples }, (_, i) => i / rateHz);
  const nowhere = range(0, 0, 0, 1);
  let seed = 1;
  const noise = (): number => (seed = (seed * 16807) % 2147483647) / 2147483647 - 0.5;
  const made = channels.map((quantity, index): Channel => {
    const shape = SHAPES[quantity] ?? SHAPES.throttle!;
    const values = new Float64Array(samples);
    for (let i = 0; i < samples; i++) values[i] = shape(timeS[i]!, noise());
    const unit = UNITS[QUANTITIES[quantity].unit];
    return {
      index,
      name: QUANTITIES[quantity].title,
      header: `${quantity}`,
      headerRange: nowhere,
      quantity,
      unit,
      quantityFrom: 'name',
      unitFrom: 'header',
      values,
      filled: samples,
      toCanonical: (value) => value,
    };
  });
  const place = (sample: number) => range(sample + 1, 0, sample + 1, 1);
  return {
    kind: 'session',
    samples,
    timeS,
    time: { kind: 'column', spread: false, medianStepS: 1 / rateHz },
    recordingStarts: [0],
    channels: made,
    shelf: new Shelf(),
    codes: [],
    notes: [],
    metadata: new Map(),
    ignored: [],
    problems: [],
    headerRange: nowhere,
    form: 'wide',
    encoding: 'utf-8',
    delimiter: ',',
    decimalComma: false,
    places: {
      cellRange: (_channel, sample) => place(sample),
      spanRange: (_channel, from, to) => ({ start: place(from).start, end: place(to).end }),
      cellText: () => '',
      lineOf: (sample) => sample + 1,
      sampleAt: (line) => (line >= 1 && line <= samples ? line - 1 : undefined),
      channelAt: () => 0,
    },
  };
}
