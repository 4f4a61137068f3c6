// A column that tells rich from lean beside one that measures: what it shows is the same mixture cut off at both ends, as a switching
// sensor's narrow window cuts it.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';

/** 40 s of cruise about λ 1, 10 s of full load, 10 s of air; `other` makes the first column of what the engine burns. */
const found = (
  fullLoadLambda: number,
  other: (lambda: number, at: number) => number,
  order: readonly ['first', 'second'] | readonly ['second', 'first'] = ['first', 'second'],
) => {
  const lines = [
    `time (s),engine speed (rpm),manifold pressure (kPa),throttle (%),${order.map((which) => (which === 'first' ? 'lambda (λ)' : 'wideband lambda (λ)')).join(',')},target lambda (λ)`,
  ];
  for (let at = 0; at < 3600; at++) {
    const t = at / 20,
      phase = t % 60,
      part = phase < 40 ? 'cruise' : phase < 50 ? 'full' : 'cut',
      noise = Math.sin(at * 12.9898) * Math.cos(at * 4.1);
    const isAir = phase > 50.3,
      lambda = isAir ? 1.6 : (phase > 40.3 ? fullLoadLambda : 1 + 0.03 * Math.sin(t * 4)) + 0.006 * noise;
    const [rpm, kPa, percent] = {
        cruise: [2500, 45, 18],
        full: [2500 + 350 * (phase - 40), 98, 99],
        cut: [5500 - 300 * (phase - 50), 24, 0],
      }[part],
      both = { first: other(lambda, at), second: lambda };
    lines.push(
      [
        t.toFixed(3),
        (rpm + 6 * noise).toFixed(0),
        (kPa + 0.3 * noise).toFixed(1),
        (percent + 0.3 * noise).toFixed(1),
        ...order.map((which) => both[which].toFixed(3)),
        part === 'full' ? '0.880' : '1.000',
      ].join(','),
    );
  }
  const findings = sessionFindings(analyse(readSession(textSource(lines.join('\n')), {}), EMPTY_VEHICLE));
  return {
    told: findings.filter(({ data }) => data?.kind === 'narrow-lambda').map(({ severity, channel }) => [severity, channel]),
    lean: findings.filter(({ code, severity }) => code === 'lean-under-load' && severity === 'error').length,
  };
};
const window = (lambda: number): number => Math.min(1.03, Math.max(0.97, lambda)),
  switched = (lambda: number): number => (lambda < 1 ? 0.97 : 1.03);

suite('a lambda column that tells rich from lean', () => {
  test('before one that measures is told, makes no lean pull and hides none', () => {
    for (const narrow of [window, switched]) {
      assert.deepEqual(found(0.87, narrow), { told: [['warning', 'lambda (λ)']], lean: 0 });
      assert.deepEqual(found(0.965, narrow).lean, 3);
    }
  });
  test('behind it changes nothing', () => {
    assert.deepEqual(found(0.87, window, ['second', 'first']), { told: [], lean: 0 });
    assert.deepEqual(found(0.965, window, ['second', 'first']), { told: [], lean: 3 });
  });
  test('is not a sound gauge whose lean reading under load a broken one contradicts', () => {
    // The second gauge is the true one of the helper: here it reads rich, and the first a true 0.97.
    assert.deepEqual(
      found(0.85, (lambda, at) => (lambda < 0.95 ? 0.97 + 0.004 * Math.sin(at) : lambda)),
      { told: [], lean: 3 },
    );
  });
});
