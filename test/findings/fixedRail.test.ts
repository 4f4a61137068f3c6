// A rail that holds its gauge while boost rises: what is said of it beside a lean pull, and when. Shares by the orifice law, worked out
// here.

import assert from 'node:assert/strict';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';

interface Car {
  readonly follows: number;
  readonly followsBoost?: number;
  readonly over: number;
  readonly boostKPa: number;
}

/**
 * Cruise and idle that teach the rail, then a pull: `follows` is the rail's rise for a kPa of the manifold (`followsBoost` where it is
 * another above the barometer), `over` lambda over target under boost.
 */
function session({ follows, followsBoost = follows, over, boostKPa }: Car): string {
  const rows = [
    'Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Barometric Pressure (kPa),Throttle (%),Lambda (λ),Target Lambda (λ),Coolant Temperature (°C),Fuel Pressure (kPa gauge)',
  ];
  for (let row = 0; row < 20 * 60; row++) {
    const timeS = row / 20,
      pull = timeS > 45 && timeS < 52,
      into = Math.min(1, (timeS - 45) / 1.5);
    const kPa = pull ? 100 + boostKPa * into : 40 + 12 * Math.sin(timeS / 4),
      target = pull ? 0.82 : 1,
      lambda = target + (pull ? over * into : 0);
    rows.push(
      [
        timeS.toFixed(2),
        (pull ? 3000 + 400 * (timeS - 45) : 2200 + 300 * Math.sin(timeS / 5)).toFixed(0),
        (kPa + 0.4 * Math.sin(row * 2.7)).toFixed(1),
        '100',
        pull ? '100' : (20 + 6 * Math.sin(timeS / 4)).toFixed(0),
        (lambda + 0.003 * Math.sin(row * 1.7)).toFixed(3),
        target.toFixed(2),
        '88',
        (300 + (kPa > 100 ? followsBoost : follows) * (kPa - 100) + 1.5 * Math.sin(row * 3.1)).toFixed(0),
      ].join(','),
    );
  }
  return `=== a.session.csv\n${rows.join('\n')}\n`;
}

const lean = async (car: Car): Promise<readonly string[]> => {
  const workspace = memoryWorkspace(session(car));
  return (await createLanguageService(workspace).check(workspace.uri('a.session.csv')))!.findings
    .filter(({ code }) => code === 'lean-under-load')
    .map(({ message }) => message);
};

suite('a rail that does not rise with boost', () => {
  test('is named beside a lean pull, with what it takes', async () => {
    // 90 of 300 kPa are gone over the injectors, 30 %; √0.7 leaves 84 % of the fuel.
    const messages = await lean({ follows: 0, over: 0.12, boostKPa: 90 });
    assert.equal(messages.length, 1);
    assert.match(
      messages[0],
      /Fuel Pressure does not rise with boost: over the injectors it falls by (29|30|31) % here, which takes 1[67] % of the fuel unless the computer reckons with it/,
    );
  });
  test('that falls besides takes both', async () => {
    // 90 kPa of boost and 45 of the rail: 45 % of 300, and √0.55 leaves 74 %.
    assert.match(
      (await lean({ follows: 0, followsBoost: -0.5, over: 0.12, boostKPa: 90 }))[0],
      /falls by 4[456] % here, which takes 2[567] % of the fuel/,
    );
  });
  test('is not where it follows, where boost is too little to matter, and where nothing is lean', async () => {
    for (const car of [
      { follows: 1, over: 0.12, boostKPa: 90 },
      { follows: 0, over: 0.12, boostKPa: 20 },
    ]) {
      const [message] = await lean(car);
      assert.ok(message && !message.includes('rise with boost'), message);
    }
    // A pump that is driven by the computer holds its gauge at light load and adds to it under boost.
    const [driven] = await lean({ follows: 0, followsBoost: 1, over: 0.12, boostKPa: 90 });
    assert.ok(driven && !driven.includes('rise with boost'), driven);
    assert.deepEqual(await lean({ follows: 0, over: 0, boostKPa: 90 }), []);
  });
});
