// Coolant that keeps one digit. By hand: a running engine heats some litres of water by tens of degrees in four minutes; a coolant that is
// cold and stays so is not measured.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

const unrest = (i: number): number => Math.sin(i * 1.9) + Math.sin(i * 0.73) + Math.sin(i * 2.71);

const stuckCoolant = (lastsS: number, coolantC: (t: number) => number) => {
  const timeS = everyS(0.2, lastsS),
    throttle = timeS.map((t) => 15 + 12 * Math.sin(t / 7));
  return sessionFindings(
    analyse(
      sessionOf(timeS, {
        'engine-speed': throttle.map((each, i) => Math.round(1500 + 60 * each + 5 * unrest(i))),
        throttle: throttle.map((each, i) => each + 0.1 * unrest(i)),
        'manifold-pressure': throttle.map((each, i) => 35 + 1.5 * each + 0.3 * unrest(i)),
        lambda: throttle.map((_, i) => 1 + 0.004 * unrest(i)),
        'coolant-temperature': timeS.map(coolantC),
      }),
      EMPTY_VEHICLE,
    ),
  ).filter(({ code, channel }) => code === 'channel-stuck' && channel === 'coolant-temperature').length;
};

suite('coolant that never moves', () => {
  test('is told where it stays cold, from the first reading to the last or after it moved', () => {
    assert.equal(
      stuckCoolant(400, () => 18),
      1,
    );
    assert.equal(
      stuckCoolant(400, (t) => (t < 20 ? 17 : 18)),
      1,
    );
  });
  test('not where the engine is warm, or ran too short for it to have moved', () => {
    assert.equal(
      stuckCoolant(400, () => 88),
      0,
    );
    assert.equal(
      stuckCoolant(200, () => 18),
      0,
    );
  });
});
