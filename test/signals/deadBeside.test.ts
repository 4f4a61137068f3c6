// Two columns of one quantity, the first of which never answers: the engine is judged by the one that lives.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';

/** A minute with a pull 0.15 over its target; `twins` stand before the columns that live. */
const drive = (twins: Readonly<Record<string, (row: number) => string>>) => {
  const rows = [
    `Time (s),${Object.keys(twins)
      .map((name) => `${name},`)
      .join('')}Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%),Lambda (λ),Target Lambda (λ),Coolant Temperature (°C)`,
  ];
  for (let row = 0; row < 1200; row++) {
    const t = row / 20,
      pull = t > 30 && t < 37,
      wiggle = Math.sin(row * 2.7);
    rows.push(
      [
        t.toFixed(2),
        ...Object.values(twins).map((at) => at(row)),
        ((pull ? 2800 + 480 * (t - 30) : 2200 + 200 * Math.sin(t / 5)) + 6 * wiggle).toFixed(0),
        ((pull ? 180 : 45) + 0.5 * Math.sin(row * 1.9)).toFixed(1),
        pull ? '100' : (14 + wiggle).toFixed(1),
        ((pull ? 0.97 : 1) + 0.004 * Math.sin(row * 3.3)).toFixed(3),
        pull ? '0.82' : '1.00',
        '88',
      ].join(','),
    );
  }
  return analyse(readSession(textSource(`${rows.join('\n')}\n`)), EMPTY_VEHICLE);
};
const lean = (twins: Readonly<Record<string, (row: number) => string>>): number =>
  sessionFindings(drive(twins)).filter(({ code, severity }) => code === 'lean-under-load' && severity === 'error').length;

suite('a column that never answers, before another of its quantity', () => {
  test('hides no lean pull, whichever it is and whatever it stands at', () => {
    assert.equal(lean({}), 1);
    for (const twin of ['Lambda (λ)', 'Wideband Lambda (λ)', 'Engine Speed (rpm)', 'MAP (kPa)', 'Throttle Position (%)'])
      for (const still of ['0', '0.98', '']) assert.equal(lean({ [twin]: () => still }), 1, `${twin} at "${still}"`);
    assert.equal(lean({ 'Lambda (λ)': () => '0.00', RPM: () => '0', 'MAP (kPa)': () => '0' }), 1);
  });
  test('is still told', () => {
    assert.ok(
      sessionFindings(drive({ 'Lambda (λ)': () => '0.00' })).some(
        ({ code, message }) => code === 'channel-stuck' && message.includes('never answered'),
      ),
    );
  });
  test('is passed over for a living one alone: of two that live the first is taken, and of two that are dead', () => {
    const rpm = (twins: Readonly<Record<string, (row: number) => string>>): string => drive(twins).channel('engine-speed')!.name;
    assert.equal(rpm({ RPM: (row) => String(2000 + (row % 7)) }), 'RPM');
    const dead = readSession(textSource('Time (s),RPM,Engine Speed (rpm)\n0,0,0\n0.1,0,0\n0.2,0,0\n'));
    assert.equal(analyse(dead, EMPTY_VEHICLE).channel('engine-speed')!.name, 'RPM');
    // What may rightly stand still is no sign of anything.
    assert.equal(drive({ 'Target AFR': () => '12.9' }).channel('target-lambda')!.name, 'Target AFR');
  });
});

// A throttle takes pressure from what flows through it (Heywood ch. 7.6, from memory): ahead of it no vacuum is read.
suite('a pressure ahead of the throttle, before the one behind it', () => {
  const isPull = (row: number): boolean => row > 600 && row < 740,
    ahead = (row: number): string => ((isPull(row) ? 181 : 101) + 0.5 * Math.sin(row * 1.3)).toFixed(1),
    gauge = (row: number): string => (Number(ahead(row)) - 101.3).toFixed(1),
    used = (twins: Readonly<Record<string, (row: number) => string>>): string => drive(twins).channel('manifold-pressure')!.name;
  test('is not what the engine is fuelled by', () => {
    assert.equal(used({ 'Charge Pressure (kPa)': ahead }), 'Manifold Pressure');
    assert.equal(used({ 'Boost (kPa)': gauge }), 'Manifold Pressure');
    assert.equal(used({ 'Ladedruck (kPa)': ahead }), 'Manifold Pressure');
  });
  test('is not one that falls as far, or that stands elsewhere at its top', () => {
    const falls = (row: number): string => (isPull(row) ? 183 : 47 + (row % 3)).toFixed(0);
    assert.equal(used({ 'MAP (kPa)': falls }), 'MAP');
    assert.equal(used({ 'MAP (kPa)': (row) => String(Number(ahead(row)) + 60) }), 'MAP');
  });
});
