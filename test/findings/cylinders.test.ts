// A lambda sensor at each port. By hand: an injector that gives an eighth less leaves its cylinder at 8/7 of the lambda of the others, and no
// other sensor shows it; injectors of a sound set scatter by a few per cent (common practice, no source).

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { gather } from '../../server/src/report/gather.js';
import { verdictOf } from '../../server/src/report/verdict.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';

const RATE_HZ = 20;

/** Each 30 s: cruise, and from 15 s a pull at λ 0.85; each cylinder at its own share of that. */
const drive = (
  cylinders: readonly ((isPull: boolean, timeS: number) => number)[],
  name = 'lambda',
  numbers = cylinders.map((_, at) => at + 1),
): string => {
  const lines = [
    `time (s),engine speed (rpm),manifold pressure (kPa),throttle (%),target lambda,${numbers.map((number) => `${name} ${number}`).join()}`,
  ];
  for (let at = 0; at < RATE_HZ * 90; at++) {
    const phase = (at / RATE_HZ) % 30,
      isPull = phase >= 15 && phase < 24,
      target = isPull ? 0.85 : 1,
      noise = Math.sin(at * 12.9898) * Math.cos(at * 4.1);
    lines.push(
      [
        at / RATE_HZ,
        (isPull ? 2500 + 350 * (phase - 15) : 2300) + 5 * noise,
        (isPull ? 98 : 45 + 5 * Math.sin(at / 40)) + 0.3 * noise,
        isPull ? 99 : 18,
        target,
        ...cylinders.map((share, cylinder) =>
          (target * share(isPull, at / RATE_HZ) * (1 + 0.003 * Math.sin(at * (7.7 + cylinder)))).toFixed(3),
        ),
      ].join(),
    );
  }
  return lines.join('\n');
};
const findings = (text: string): string[] =>
  sessionFindings(analyse(readSession(textSource(text), {}), EMPTY_VEHICLE))
    .filter(({ severity }) => severity === 'error' || severity === 'warning')
    .map(({ code, severity, message }) => `${severity} ${code} ${message}`);
const sound = (share: number) => (): number => share;

suite('a lambda sensor at each port', () => {
  test('tells a third cylinder that is lean under load, which the others do not show', () => {
    const [first, ...rest] = findings(drive([sound(1), sound(0.99), (isPull) => (isPull ? 8 / 7 : 1.01), sound(1.01)]));
    assert.match(first, /^error lean-under-load Lean under load: lambda 3 reaches λ 0\.9\d, .*, of this cylinder only\. /);
    assert.ok(
      rest.every((text) => text.includes('lambda 3')),
      rest.join('\n'),
    );
  });
  test('tells a fourth that is lean everywhere, by whatever name of a cylinder', () => {
    assert.match(
      findings(drive([sound(1), sound(0.99), sound(1.01), sound(8 / 7)], 'Lambda Cyl'))[0],
      /^error lean-under-load .*Lambda Cyl 4 reaches/,
    );
  });
  test('tells the first one too in whatever order they stand', () => {
    assert.match(
      findings(drive([sound(1), sound(0.99), sound(1.01), (isPull) => (isPull ? 8 / 7 : 1)], 'lambda', [4, 3, 2, 1]))[0],
      /^error lean-under-load .*lambda 1 reaches .*, of this cylinder only/,
    );
  });
  test('and the report says how far that one was off', async () => {
    const log = drive([sound(1), sound(0.99), (isPull) => (isPull ? 8 / 7 : 1.01), sound(1.01)]),
      workspace = memoryWorkspace(`=== vehicle.json\n{}\n=== a.session.csv\n${log}`),
      service = createLanguageService(workspace),
      folder = (await service.vehicleFolder(workspace.uri('vehicle.json')))!;
    const report = await gather(workspace, service, folder, { date: '2026-09-16', version: '9.9.9' });
    // An eighth of the fuel that is meant: 1 − 7/8 = 12.5 %.
    assert.match(verdictOf(report).sentences.join(' '), /the engine got too little fuel, at worst 1[23]\s% less/);
  });
  test('takes the scatter of a sound set for no fault, nor for gauges that contradict each other', () => {
    assert.deepEqual(findings(drive([sound(1), sound(0.985), sound(1.03), sound(0.97)])), []);
  });
});

suite('a bank that reads a tenth lean', () => {
  // In closed loop its trim hides it; injectors do so all the time, a cylinder that misses comes and goes.
  test('through every pull is lean and no misfire', () => {
    const [first, ...rest] = findings(drive([sound(1), (isPull) => (isPull ? 1.1 : 1)]));
    assert.match(first, /^error lean-under-load .*lambda 2 reaches .*on this bank only/);
    assert.ok(
      rest.every((text) => text.startsWith('error lean-under-load')),
      rest.join('\n'),
    );
  });
  // A coil gives up when it is asked for most, and does so in every pull.
  test('from two seconds on in each pull may miss', () => {
    const told = findings(drive([sound(1), (isPull, t) => (isPull && t % 30 > 17 ? 1.13 : 1)]));
    assert.ok(told.length > 0 && told.every((text) => text.includes('misfire-suspected')), told.join('\n'));
  });
  test('for a while in one pull of several may miss', () => {
    const told = findings(drive([sound(1), (isPull, t) => (isPull && t > 48 && t < 51 ? 1.1 : 1)]));
    assert.ok(
      told.some((text) => text.startsWith('warning misfire-suspected')),
      told.join('\n'),
    );
  });
});
