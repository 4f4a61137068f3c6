// A logged target that never moves beside the table that the owner names. An engine that is run rich at full load for its temperatures
// (Heywood ch. 15, from memory) is not asked for one mixture everywhere, so a channel that says so tells something else.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

const table = (richest: number) =>
  readTable(
    `# quantity: target lambda\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,500,7000\n20,1,1\n80,1,1\n180,${richest},${richest}\n`,
  );
/** Cruise, and a boosted pull of eight seconds in every forty, each at what the table asks for. */
const signalsOf = (target: (t: number) => number, richest = 0.82) => {
  const timeS = everyS(0.1, 160),
    isPull = (t: number): boolean => t % 40 > 30 && t % 40 < 38;
  return analyse(
    sessionOf(timeS, {
      'engine-speed': timeS.map((t, i) => Math.round((isPull(t) ? 2500 + 400 * ((t % 40) - 30) : 2400) + 8 * Math.sin(i * 1.9))),
      throttle: timeS.map((t, i) => (isPull(t) ? 100 : 20 + Math.sin(i * 0.7))),
      'manifold-pressure': timeS.map((t, i) => (isPull(t) ? 180 : 55) + 0.5 * Math.sin(i * 2.3)),
      lambda: timeS.map((t, i) => (isPull(t - 0.15) ? richest : 1) + 0.004 * Math.sin(i * 2.7)),
      'target-lambda': timeS.map(target),
    }),
    EMPTY_VEHICLE,
    { targetTable: table(richest) },
  );
};
const codes = (signals: ReturnType<typeof signalsOf>): string[] =>
  sessionFindings(signals).map(({ code, severity }) => `${severity} ${code}`);

suite('a logged target that never moves', () => {
  test('is passed over for a table that does, and told: no pull is rich by it', () => {
    const signals = signalsOf(() => 1);
    assert.equal(signals.targetLambda?.from, 'table');
    assert.deepEqual(codes(signals), ['information channel-stuck']);
  });
  test('stands where it asks for more fuel than the table anywhere: what a pull is short of it is told', () => {
    const signals = signalsOf(() => 0.74);
    assert.equal(signals.targetLambda?.from, 'channel');
    assert.equal(
      sessionFindings(signals).some(({ code, severity }) => code === 'lean-under-load' && severity === 'error'),
      true,
    );
  });
  test('is told for one thing: on another scale, or lean, not for standing still too', () => {
    for (const value of [14.7, 1.1]) assert.equal(codes(signalsOf(() => value)).length, 1);
  });
  test('stands where the table asks for much the same everywhere, and one that moves stands always', () => {
    assert.equal(signalsOf(() => 1, 0.95).targetLambda?.from, 'channel');
    assert.equal(signalsOf((t) => (t % 40 > 30 && t % 40 < 38 ? 0.85 : 1)).targetLambda?.from, 'channel');
  });
});
