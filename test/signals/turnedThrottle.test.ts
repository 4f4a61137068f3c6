// A throttle against the manifold that it throttles: closed it starves a running engine, wide open it lets the air around in. Nothing else
// is laid down here.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

/** 30 s of idle, 30 s at part load, 10 s at full load, 10 s of overrun, again and again; lambda at full load is as given. */
const drive = (turn: { throttle?: boolean; pressure?: boolean }, fullLoadLambda = 0.88) => {
  const timeS = everyS(0.05, 240),
    phase = (t: number) => t % 80,
    part = (t: number) => (phase(t) < 30 ? 'idle' : phase(t) < 60 ? 'cruise' : phase(t) < 70 ? 'full' : 'cut');
  const noise = (i: number) => Math.sin(i * 12.9898) * Math.cos(i * 4.1),
    of = <T>(t: number, by: Record<'idle' | 'cruise' | 'full' | 'cut', T>): T => by[part(t)];
  const throttle = timeS.map((t, i) => of(t, { idle: 1, cruise: 18, full: 99, cut: 1 }) + 0.4 * noise(i)),
    pressure = timeS.map((t, i) => of(t, { idle: 38, cruise: 52, full: 98, cut: 25 }) + 0.4 * noise(i));
  return analyse(
    sessionOf(timeS, {
      'engine-speed': timeS.map(
        (t, i) => of(t, { idle: 850, cruise: 2500, full: 2500 + 350 * (phase(t) - 60), cut: 5500 - 350 * (phase(t) - 70) }) + 6 * noise(i),
      ),
      throttle: turn.throttle ? throttle.map((percent) => 100 - percent) : throttle,
      'manifold-pressure': turn.pressure ? pressure.map((kPa) => 125 - kPa) : pressure,
      lambda: timeS.map(
        (t, i) =>
          of(t, { idle: 1, cruise: 1, full: phase(t) > 60.3 ? fullLoadLambda : 1, cut: phase(t) > 70.3 ? 1.6 : fullLoadLambda }) +
          (part(t) === 'cut' ? 0 : 0.006 * noise(i)),
      ),
      'target-lambda': timeS.map((t) => (part(t) === 'full' ? 0.88 : 1)),
    }),
    EMPTY_VEHICLE,
  );
};
const findings = (signals: ReturnType<typeof drive>) => sessionFindings(signals);
const told = (signals: ReturnType<typeof drive>) => findings(signals).filter(({ data }) => data?.kind === 'turned');
const leanErrors = (signals: ReturnType<typeof drive>) =>
  findings(signals).filter(({ code, severity }) => code === 'lean-under-load' && severity === 'error').length;

suite('a throttle that reads the wrong way round', () => {
  test('is told, and neither makes overrun a lean pull nor hides one', () => {
    const healthy = drive({ throttle: true }),
      lean = drive({ throttle: true }, 0.99);
    assert.deepEqual(
      told(healthy).map(({ code, severity, channel }) => [code, severity, channel]),
      [['value-implausible', 'warning', 'throttle']],
    );
    assert.equal(leanErrors(healthy), 0);
    assert.equal(healthy.pulls.length, 3);
    assert.equal(leanErrors(lean), 3);
  });
  test('is not one that is right, whatever the mixture', () => {
    for (const lambda of [0.88, 0.99]) assert.equal(told(drive({}, lambda)).length, 0);
  });
  test('is not told by a manifold pressure that is turned itself', () => {
    assert.equal(told(drive({ pressure: true })).length, 0);
  });
});
