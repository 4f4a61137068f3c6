// Columns whose numbers are none of what their header says: an engine speed in tens, an injector that never answers, a target of nought
// while the loop is closed. What the engine does is laid down here: a manifold that holds 45 kPa is of an engine that runs (a starter draws
// hardly any vacuum), and injectors that never open would not drive a car.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { fuelCut } from '../../server/src/fueling/delay/fuelCut.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

const timeS = everyS(0.05, 120),
  full = (t: number): boolean => t % 40 >= 30;
const noise = (i: number): number => Math.sin(i * 12.9898) * Math.cos(i * 4.1);
const drive = (more: Record<string, Float64Array>) =>
  analyse(
    sessionOf(timeS, {
      'engine-speed': timeS.map((t, i) => (full(t) ? 2000 + 420 * ((t % 40) - 30) : t % 40 < 15 ? 850 : 2400) + 8 * noise(i)),
      'manifold-pressure': timeS.map((t, i) => (full(t) ? 98 : 45) + noise(i)),
      throttle: timeS.map((t, i) => (full(t) ? 100 : t % 40 < 15 ? 1 : 9) + 0.2 * noise(i)),
      lambda: timeS.map((t, i) => (full(t) ? 1.0 : 1) + 0.006 * noise(i)),
      'target-lambda': timeS.map((t) => (full(t) ? 0.88 : 1)),
      ...more,
    }),
    EMPTY_VEHICLE,
  );
const kinds = (signals: ReturnType<typeof drive>): readonly string[] =>
  sessionFindings(signals)
    .filter(({ code }) => code !== 'lean-under-load')
    .map(({ code, data }) => `${code} ${String(data?.kind ?? '')}`.trim());
const rpmBy = (factor: number): Float64Array =>
  drive({})
    .held('engine-speed')!
    .map((rpm) => rpm * factor);

suite('numbers that are none of what the header says', () => {
  test('an engine speed in tens or hundreds of rpm is told: read as it stands no pull is seen. (8 to 62 may be turns a second as well.)', () => {
    for (const [factor, words] of [
      [0.1, /^tens of rpm$/],
      [0.01, /^(hundreds of rpm|Hz)$/],
    ] as const) {
      const found = sessionFindings(drive({ 'engine-speed': rpmBy(factor) })).filter(
        ({ code, data }) => code === 'value-implausible' && data?.kind === 'unit',
      );
      assert.deepEqual(
        found.map(({ severity }) => severity),
        ['error'],
      );
      assert.match(String(found[0].data!.looksLike), words);
    }
    assert.deepEqual(kinds(drive({})), []);
  });
  test('also where the log holds no idle; the message gives the scale, and read by it pulls are seen', () => {
    const cruise = timeS.map((t, i) => (full(t) ? 2600 + 360 * ((t % 40) - 30) : 2600) + 8 * noise(i)),
      tens = cruise.map((rpm) => rpm / 10);
    const found = sessionFindings(drive({ 'engine-speed': tens })).filter(
      ({ code, data }) => code === 'value-implausible' && data?.kind === 'unit',
    );
    assert.equal(found.length, 1);
    assert.match(found[0].message, /look like tens of rpm.*Map the channel in vehicle\.json with "scale": \[\[0, 0\], \[1, 10\]\]/);
    const scaled = readSession(
      textSource(
        `Time (s),RPM,Throttle (%),Manifold Pressure (kPa)\n${Array.from(timeS, (t, i) => `${t},${tens[i].toFixed(1)},${full(t) ? 100 : 9},${full(t) ? 98 : 45}`).join('\n')}\n`,
      ),
      {
        vehicle: {
          ...EMPTY_VEHICLE,
          channels: new Map([
            [
              'RPM',
              {
                quantity: 'engine-speed',
                scale: [
                  [0, 0],
                  [1, 10],
                ],
              },
            ],
          ]),
        },
      },
    );
    assert.equal(analyse(scaled, EMPTY_VEHICLE).events.filter(({ kind }) => kind === 'pull').length, 3);
  });
  test('a trim that is a factor, or percent of all fuel, comes with the scale that makes it percent added', () => {
    for (const [raw, scale] of [
      [(percent: number) => 1 + percent / 100, '[[0, -100], [1, 0]]'],
      [(percent: number) => 100 + percent, '[[0, -100], [1, -99]]'],
    ] as const) {
      const [found] = sessionFindings(drive({ 'short-term-fuel-trim': timeS.map((t, i) => raw(3 * Math.sin(5 * t) + noise(i))) })).filter(
        ({ data }) => data?.kind === 'unit',
      );
      assert.ok(found.message.includes(`with "scale": ${scale};`), found.message);
    }
  });
  test('an engine that is cranked for long is none', () => {
    // 200 rpm by the starter, two thirds of the time, then idle; the manifold is drawn down by the running engine alone.
    const cranked = (t: number): boolean => t < 80;
    const found = kinds(
      drive({
        'engine-speed': timeS.map((t, i) => (cranked(t) ? 200 + 40 * noise(i) : 900 + 8 * noise(i))),
        'manifold-pressure': timeS.map((t, i) => (cranked(t) ? 95 : 40) + noise(i)),
        throttle: timeS.map((_, i) => 2 + noise(i)),
      }),
    );
    assert.ok(!found.includes('value-implausible unit'), found.join());
  });
  test('injectors that are said never to open are asked no more: idle and cruise are no fuel cut', () => {
    for (const quantity of ['injector-duty', 'injector-pulse-width']) {
      const signals = drive({ [quantity]: timeS.map(() => 0) });
      assert.equal(fuelCut(signals, signals.held('engine-speed'))?.includes(1) ?? false, false, quantity);
      assert.ok(
        signals.events.every(({ kind }) => kind !== 'overrun'),
        quantity,
      );
    }
  });
  test('a target of nought while the loop is closed is no fault of a sensor; one that no engine has is', () => {
    const closed = (value: number): Float64Array => timeS.map((t) => (full(t) ? 0.88 : value));
    assert.deepEqual(kinds(drive({ 'target-lambda': closed(0) })), []);
    assert.ok(kinds(drive({ 'target-lambda': closed(0.2) })).some((kind) => kind.startsWith('value-implausible')));
    assert.equal(
      sessionFindings(drive({ 'target-lambda': closed(0) })).filter(
        ({ code, severity }) => code === 'lean-under-load' && severity === 'error',
      ).length,
      3,
    );
  });
});
