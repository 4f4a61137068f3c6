// The injector's line found from its pulses: dead time and slope, and what comes on top of what the table asks for.

import assert from 'node:assert/strict';
import { meteredOver } from '../../server/src/fueling/delay/metered.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { sessionOf } from './tinyEngine.js';

suite('fuel metered by the pulse', () => {
  const size = 1500;
  const timeS = Float64Array.from({ length: size }, (_, at) => at / 25);
  // Arithmetic on stated inputs: 0.9 ms dead time, 0.25 ms for each mg asked; a fifth more fuel for half a second.
  const askedMg = timeS.map((at) => 12 + 8 * Math.sin(at / 3));
  const enriched = (at: number): boolean => timeS[at] >= 30 && timeS[at] < 30.5;
  const pulses = askedMg.map((mg, at) => 0.9 + 0.25 * mg * (enriched(at) ? 1.2 : 1));
  const signalsWith = (values: Float64Array): ReturnType<typeof analyse> =>
    analyse(
      sessionOf(timeS, [
        { quantity: 'engine-speed', values: new Float64Array(size).fill(2500) },
        { quantity: 'injector-pulse-width', values },
      ]),
      EMPTY_VEHICLE,
    );
  const lnAsked = askedMg.map(Math.log),
    unsteady = Uint8Array.from(timeS, (_, at) => Number(enriched(at)));

  test('shows an enrichment as it is, and nothing where there is none', () => {
    const metered = meteredOver(signalsWith(pulses), lnAsked, unsteady)!;
    const base = metered[100];
    metered.forEach((value, at) =>
      assert.ok(Math.abs(value - base - (enriched(at) ? Math.log(1.2) : 0)) < 0.004, `${at}: ${value - base}`),
    );
  });

  test('is not asked of a pulse that follows another table, nor of one read too seldom', () => {
    const other = askedMg.map((_, at) => 3 + 2 * Math.sin(at * 0.7));
    assert.equal(meteredOver(signalsWith(other), lnAsked, new Uint8Array(size)), undefined);
    const seldom = pulses.map((value, at) => (at % 5 === 0 ? value : NaN));
    assert.equal(meteredOver(signalsWith(seldom), lnAsked, new Uint8Array(size)), undefined);
  });

  test('no pulse passes nothing', () => {
    const cut = pulses.map((value, at) => (at > 1000 && at < 1050 ? 0 : value));
    assert.equal(meteredOver(signalsWith(cut), lnAsked, unsteady)![1020], -Infinity);
  });
});
