// How surely a meter that pulses is read: what its readings scatter by about the flow is known from how the pulse was made.

import { equal, ok } from 'node:assert/strict';
import { doubtPulses } from '../../server/src/fueling/delay/delayEvents.js';

const rows = 400;
const logged = (hz: number, lnFlow: (seconds: number) => number): Float64Array => {
  const timeS = Float64Array.from({ length: rows }, (_, row) => row / hz),
    doubt = new Float64Array(rows);
  doubtPulses(doubt, timeS.map(lnFlow), timeS);
  return doubt;
};

suite('a meter whose air pulses', () => {
  // Four cylinders breathe in twice a turn; a sine of amplitude A scatters by A/√2 over the moments at which it is read. A speed at which
  // rows keep pace with it hides it, so that a pull goes through many.
  for (const hz of [20, 50])
    test(`is doubted by about what it scatters by along a pull, at ${hz} Hz`, () => {
      const perS = 4500 * (hz / rows),
        turnsAt = (seconds: number): number => (1200 * seconds + (perS * seconds ** 2) / 2) / 60;
      const doubt = logged(hz, (seconds) => 3 + 0.1 * seconds + 0.15 * Math.sin(4 * Math.PI * turnsAt(seconds)));
      const usual = Math.sqrt(doubt.reduce((sum, each) => sum + each ** 2, 0) / rows) / (0.15 / Math.SQRT2);
      ok(usual > 0.6 && usual < 1.6, `${usual}`);
    });

  test('is not doubted while a throttle opens, however fast', () => {
    const doubt = logged(50, (seconds) => 1 + 2 / (1 + Math.exp(-(seconds - 4) / 0.01)));
    equal(Math.max(...doubt), 0);
  });

  test('is doubted where it pulses, and a second later no more', () => {
    const doubt = logged(50, (seconds) => 3 + (seconds > 3 && seconds < 4 ? 0.15 * Math.sin(80 * seconds) : 0));
    ok(doubt[175] > 0.05 && doubt[100] < 0.005 && doubt[250] < 0.005, `${doubt[175]} ${doubt[100]} ${doubt[250]}`);
  });

  test('at rest spoils no neighbour', () => {
    const doubt = logged(50, (seconds) => (seconds === 4 ? Infinity : 3));
    ok(doubt.every(Number.isFinite) && doubt[0] < 1e-6);
  });
});
