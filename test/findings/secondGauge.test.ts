// Two gauges in one exhaust. By hand: a lean spot is one that is put into the readings of one of them; a gauge that answers late shows what
// the other one showed before, one with a first-order lag what lies between (any handbook of instruments), and one that is off by a share is
// so everywhere.

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

/** Each 30 s: cruise, from 15 s a pull at λ 0.87 that gets to 0.83, from 24 s air. `second` of what the first gauge showed until now. */
const drive = (second: (shown: readonly number[], phase: number, at: number) => number): string => {
  const lines = ['time (s),engine speed (rpm),manifold pressure (kPa),throttle (%),lambda (λ),wideband lambda (λ),target lambda (λ)'],
    shown: number[] = [];
  let lambda = 1;
  for (let at = 0; at < RATE_HZ * 240; at++) {
    const phase = (at / RATE_HZ) % 30,
      isPull = phase >= 15 && phase < 24,
      isAir = phase >= 24 && phase < 27,
      target = isPull ? 0.87 - 0.04 * Math.min(1, Math.max(0, (phase - 21) / 2)) : 1,
      noise = Math.sin(at * 12.9898) * Math.cos(at * 4.1);
    lambda += ((isAir ? 1.6 : target) - lambda) * 0.4;
    shown.push(lambda * (1 + 0.004 * noise));
    lines.push(
      [
        (at / RATE_HZ).toFixed(2),
        ((isPull ? 2500 + 350 * (phase - 15) : isAir ? 3000 : 2300 + 100 * Math.sin(at / 60)) + 5 * noise).toFixed(0),
        ((isPull ? 98 : isAir ? 24 : 45 + 5 * Math.sin(at / 40)) + 0.3 * noise).toFixed(1),
        ((isPull ? 99 : isAir ? 0 : 18) + 0.2 * noise).toFixed(1),
        shown[at].toFixed(3),
        second(shown, phase, at).toFixed(3),
        target.toFixed(3),
      ].join(','),
    );
  }
  return lines.join('\n');
};
const lean = (second: Parameters<typeof drive>[0]): (readonly [string, string])[] =>
  sessionFindings(analyse(readSession(textSource(drive(second)), {}), EMPTY_VEHICLE))
    .filter(({ code }) => code === 'lean-under-load')
    .map(({ severity, message }) => [severity, message]);
const now = (shown: readonly number[]): number => shown[shown.length - 1];

suite('a second gauge of a bank', () => {
  test('that alone sees a lean spot under load tells it, and that the other one does not', () => {
    const [[severity, message]] = lean((shown, phase) => now(shown) * (phase > 18 && phase < 20 ? 1.1 : 1));
    assert.equal(severity, 'error');
    assert.match(message, /^Lean under load: wideband lambda reaches λ 0\.9\d.*; lambda shows nothing of it, and which gauge is right is/);
  });
  test('and the report says how far its pull was off, not how far the other gauge was', async () => {
    const workspace = memoryWorkspace(
        `=== vehicle.json\n{}\n=== a.session.csv\n${drive((shown, phase) => now(shown) * (phase > 18 && phase < 20 ? 1.1 : 1))}`,
      ),
      service = createLanguageService(workspace),
      folder = (await service.vehicleFolder(workspace.uri('vehicle.json')))!;
    const report = await gather(workspace, service, folder, { date: '2026-09-16', version: '9.9.9' });
    // 1 − 1 / 1.1 = 9 %.
    assert.match(verdictOf(report).sentences.join(' '), /full-throttle pulls the engine got too little fuel, at worst (9|10)\s% less/);
  });
  test('that answers late or slowly, is a little off, or tells rich from lean alone, accuses nobody', () => {
    let slow = 1;
    for (const second of [
      now,
      (shown: readonly number[]) => shown[Math.max(0, shown.length - 13)],
      (shown: readonly number[]) => (slow += (Math.min(1.6, now(shown)) - slow) / (1.2 * RATE_HZ)),
      (shown: readonly number[]) => 1.022 * now(shown),
      (shown: readonly number[]) => Math.min(1.03, Math.max(0.97, now(shown))),
    ])
      assert.deepEqual(lean(second), []);
  });
}).timeout(30_000);
