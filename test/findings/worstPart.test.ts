// Several columns of one quantity, each of a part of the engine: an engine knocks by its worst cylinder and runs out of fuel by its longest
// open injector, whichever column stands first.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import type { Finding } from '../../server/src/findings/finding.js';
import { pullColumns, sampleLog } from '../../server/src/findings/sampleLog.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { distressOf } from '../../server/src/signals/distress.js';

const live = pullColumns();
/** As the sample logs of the rules have it: the pull is from the second second on, the worst at the fifth. */
const fading =
  (peak: number) =>
  (t: number): number =>
    t >= 5 ? Math.max(0, peak - Math.floor((t - 5) * 2)) : 0;
const open =
  (percent: number) =>
  (t: number): number =>
    t >= 2 && t < 8 ? percent * Math.min(1, 0.6 + (t - 2) * 0.08) : 6;
const read = (columns: Record<string, (t: number) => number>) =>
  analyse(readSession(textSource(sampleLog(11, 0.2, { ...live, ...columns })), { vehicle: EMPTY_VEHICLE }), EMPTY_VEHICLE);
const of = (code: string, columns: Record<string, (t: number) => number>): Finding[] =>
  sessionFindings(read(columns)).filter((finding) => finding.code === code);

const cylinders = (name: (cylinder: number) => string, worst: number, peak: number): Record<string, (t: number) => number> =>
  Object.fromEntries([1, 2, 3, 4].map((cylinder) => [name(cylinder), fading(cylinder === worst ? peak : 1)]));

suite('several columns of one quantity', () => {
  for (const worst of [1, 2, 3, 4]) {
    test(`tell the knock of cylinder ${worst}, by its name and in its column`, () => {
      const columns = cylinders((cylinder) => `Knock Retard Cyl ${cylinder} (deg)`, worst, 7),
        [finding, ...more] = of('knock', columns);
      assert.equal(more.length, 0);
      assert.equal(finding.severity, 'error');
      assert.match(finding.message, new RegExp(`7\\.?0?° of spark taken back by Knock Retard Cyl ${worst} `));
      const signals = read(columns),
        channel = signals.session.channels.find(({ name }) => name === `Knock Retard Cyl ${worst}`)!;
      assert.deepEqual(
        finding.range.start,
        signals.session.places.cellRange(channel.index, signals.timeS.indexOf(finding.timeS![0])).start,
      );
      assert.equal(distressOf(signals).find(([what]) => what === 'knock')![1].length, 1);
      assert.equal(Math.max(...signals.pulls.map((pull) => pull.peakKnockRetardDeg ?? 0)), 7);
    });
  }
  test('are held over their blanks, all of them: a spell lasts as long as it does', () => {
    // Read in every sixth row, 1.2 s apart: at 6.0 and at 7.2 s it is over the limit.
    const spells = of('knock', {
      'Knock Retard Cyl 1 (deg)': () => 0,
      'Knock Retard Cyl 2 (deg)': (t) => (Math.round(t * 5) % 6 === 0 ? fading(7)(t) : NaN),
    });
    assert.equal(spells.length, 1);
    const [from, to] = spells[0].timeS!;
    assert.ok(from <= 6 && to >= 7.2 && to - from < 3, `${from} to ${to} s`);
  });
  test('tell nothing where no cylinder loses as much as the limit, and one counted downwards as one counted upwards', () => {
    assert.deepEqual(
      of(
        'knock',
        cylinders((cylinder) => `Knock Retard Cyl ${cylinder} (deg)`, 3, 1),
      ),
      [],
    );
    const down = { 'Knock Retard Cyl 1 (deg)': fading(1), 'Knock Retard Cyl 2 (deg)': (t: number) => -fading(6)(t) };
    assert.match(of('knock', down)[0].message, /Knock Retard Cyl 2/);
  });
  test('tell the injectors that are open longest, logged as duty or as pulse width', () => {
    const [duty] = of('injector-duty-high', { 'Injector Duty 1 (%)': open(70), 'Injector Duty 2 (%)': open(98) });
    assert.equal(duty.severity, 'error');
    assert.equal(duty.data?.peakPercent, 98);
    // A four-stroke cycle at 6000 rpm lasts 20 ms.
    const pulse =
      (percent: number) =>
      (t: number): number =>
        open(percent)(t) / 5;
    const [width] = of('injector-duty-high', { 'Injector Pulse Width 1 (ms)': pulse(60), 'Injector Pulse Width 2 (ms)': pulse(98) });
    assert.match(width.message, /from Injector Pulse Width 2 and engine speed/);
    assert.deepEqual(of('injector-duty-high', { 'Injector Duty 1 (%)': open(70), 'Injector Duty 2 (%)': open(71) }), []);
    // A second set of injectors that is at its end has no more to give, whatever the first one does.
    const [staged] = of('injector-duty-high', { 'Injector Duty Primary (%)': open(70), 'Injector Duty Cycle Secondary (%)': open(98) });
    assert.equal(staged.data?.peakPercent, 98);
  });
  // A car has its charge air told before the cooler and behind it, and its coolant by the computer's sensor and by the shop's.
  test('tell the hottest air that the engine breathes', () => {
    const [hot] = of('intake-air-hot', {
      'Intake Air Temperature (°C)': (t) => Math.round(30 + Math.sin(t)),
      'Charge Air Temperature (°C)': (t) => Math.round(40 + Math.max(0, t - 2) * 7),
    });
    assert.equal(hot.severity, 'error');
    assert.match(hot.message, /^Charge Air Temperature/);
  });
  test('tell the hotter of two coolant sensors, two that agree once, and none of a head', () => {
    const warm = (t: number): number => Math.round(88 + Math.sin(t)),
      boils = (t: number): number => Math.round(98 + 2 * t);
    assert.match(
      of('coolant-hot', { 'Coolant Temperature (°C)': warm, 'Coolant Temperature 2 (°C)': boils })[0].message,
      /^Coolant Temperature 2/,
    );
    assert.equal(of('coolant-hot', { 'Coolant Temperature (°C)': boils, 'Coolant Temperature 2 (°C)': (t) => boils(t) + 2 }).length, 1);
    // Warming up in °F under a header that says °C: 100 to 210 °F are 38 to 99 °C.
    assert.deepEqual(of('coolant-hot', { 'Coolant Temperature (°C)': warm, 'Coolant Temperature 2 (°C)': (t) => 100 + 10 * t }), []);
    assert.deepEqual(of('coolant-hot', { 'Coolant Temperature (°C)': warm, 'Cylinder Head Temperature (°C)': boils }), []);
  });
  // Limits of common practice, no source; °F without a unit would be a cool exhaust.
  test('tell hot oil and a hot exhaust, of the cylinder that is hottest; none whose unit is not known', () => {
    const [oil] = of('coolant-hot', { 'Oil Temperature (°C)': (t) => Math.round(120 + 3 * t) });
    assert.match(oil.message, /^Oil Temperature reaches 15\d °C \(limit 145/);
    assert.equal(oil.severity, 'error');
    const exhaust = (t: number): number => Math.round(700 + (t > 3 ? 26 * (t - 3) : 0));
    const [hot, ...more] = of('coolant-hot', {
      'EGT 1 (°C)': (t) => exhaust(t) - 60,
      'EGT 2 (°C)': (t) => exhaust(t) + 80,
    });
    assert.match(hot.message, /^EGT 2 reaches 9[5-9]\d °C \(limit 950/);
    assert.equal(hot.severity, 'warning');
    assert.deepEqual(more, []);
    assert.deepEqual(of('coolant-hot', { EGT: (t) => exhaust(t) + 200 }), []);
  });
  test('take no two readings of a noisy wire for a hot exhaust, and one that is hot for a second and a half for what it is', () => {
    const from = (isHot: (t: number) => boolean) => of('coolant-hot', { 'EGT (°C)': (t) => (isHot(t) ? 1020 : 780) });
    for (const apartS of [8, 4, 1])
      assert.deepEqual(
        from((t) => Math.abs(t - 1) < 0.1 || Math.abs(t - 1 - apartS) < 0.1),
        [],
        `${apartS} s`,
      );
    assert.equal(from((t) => t > 5 && t < 6.5)[0].severity, 'error');
  });
  // 300 kPa over the injectors; a second pump that gives 60 less takes a fifth of it (orifice law: a tenth of the fuel).
  test('tell the rail or pump that fades, and what two show of one fall once', () => {
    const swing = (t: number): number => (t < 2 || t > 8 ? 15 * Math.sin(t) : 0),
      manifold = (t: number): number => live['manifold pressure (kPa)'](t) + swing(t),
      rail =
        (fall: number) =>
        (t: number): number =>
          199 + manifold(t) - (t > 5 && t < 8 ? fall * Math.min(1, t - 5) : 0);
    const drive = (first: number, second: number) => {
      const columns = { 'Fuel Pressure 1 (kPa)': rail(first), 'Fuel Pressure 2 (kPa)': rail(second) };
      return analyse(
        readSession(textSource(sampleLog(16, 0.1, { ...live, 'manifold pressure (kPa)': manifold, ...columns })), {}),
        EMPTY_VEHICLE,
      );
    };
    const falls = (first: number, second: number): string[] =>
      sessionFindings(drive(first, second)).flatMap(({ code, message }) => (code === 'fuel-pressure-drop' ? [message] : []));
    assert.match(falls(0, 60)[0], /^Fuel Pressure 2: /);
    assert.equal(distressOf(drive(0, 60)).filter(([what, spells]) => what === 'fuel-pressure' && spells.length > 0).length, 1);
    assert.equal(falls(60, 60).length, 1);
    for (const [first, second, worse] of [
      [35, 90, 2],
      [90, 35, 1],
    ]) {
      const [fall, ...more] = falls(first, second);
      assert.deepEqual(more, []);
      assert.match(fall, new RegExp(`^Fuel Pressure ${worse}: .* falls by (29|30|31) %`));
      const [{ fuelPressureDropPercent: held }] = drive(first, second).pulls;
      assert.ok(held! > 27 && held! < 32, `of the pull: ${held} %`);
    }
    assert.deepEqual(falls(0, 0), []);
  });
});
