// A gear shift with the foot down: fuel is cut for a tenth of a second, and the sensor, a lag of 0.1 s, comes back by e^(−t/0.1 s). The
// mixture of the engine itself is on target throughout.

import assert from 'node:assert/strict';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { oneTableCar } from '../support/oneTableCar.js';

const TARGET = 0.82,
  CYCLE_S = 12,
  PULLS_S = 4,
  SHIFT_S = 4,
  FALLS_S = 0.15,
  LAG_S = 0.1,
  DELAY_S = 0.1;

/** Four seconds at part load, then pulls in second and third gear of 4 s each, by `cuts` with a cut at the shift between. */
const drive = (cuts: boolean): string => {
  const rows = [
    'Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%),Lambda (λ),Target Lambda (λ),Vehicle Speed (km/h),Coolant Temperature (°C)',
  ];
  for (let row = 0; row < 20 * 120; row++) {
    const timeS = row / 20,
      at = (timeS % CYCLE_S) - PULLS_S,
      since = at - SHIFT_S;
    if (at < 0) {
      rows.push(
        [
          timeS.toFixed(2),
          (3600 + 20 * Math.sin(timeS)).toFixed(0),
          (70 + Math.sin(row * 2.1)).toFixed(1),
          '20',
          (TARGET + 0.003 * Math.sin(row * 2.3)).toFixed(3),
          TARGET,
          '45',
          '88',
        ].join(','),
      );
      continue;
    }
    const rpm = since < 0 ? 3600 + 700 * at : since < FALLS_S ? 6400 - (2200 * since) / FALLS_S : 4200 + 560 * (since - FALLS_S),
      rolls = since < 0 ? rpm * 0.0125 : since < FALLS_S ? 80 : rpm * 0.019;
    const seen = since - DELAY_S,
      air = cuts && seen >= 0 ? (seen < FALLS_S ? 0.9 : 0.9 * Math.exp(-(seen - FALLS_S) / LAG_S)) : 0;
    rows.push(
      [
        timeS.toFixed(2),
        rpm.toFixed(0),
        (170 + Math.sin(row * 2.1)).toFixed(1),
        '100',
        Math.min(1.6, TARGET + air + 0.003 * Math.sin(row * 2.3)).toFixed(3),
        TARGET,
        rolls.toFixed(1),
        '88',
      ].join(','),
    );
  }
  return `${rows.join('\n')}\n`;
};

const weighed = async (cuts: boolean) => {
  const workspace = oneTableCar(
      `, 3500, 4000, 4500, 5000, 5500, 6000, 6500
150, 80, 82, 84, 85, 84, 82, 80
170, 82, 84, 86, 87, 86, 84, 82
190, 84, 86, 88, 89, 88, 86, 84`,
      drive(cuts),
    ),
    service = createLanguageService(workspace);
  return {
    evidence: (await service.weigher.evidence(workspace.uri('ve.table.csv')))!.value,
    lean: (await service.check(workspace.uri('ve.table.csv')))!.findings.filter(({ code }) => code === 'cell-lean'),
  };
};

suite('a gear shift with the foot down', () => {
  test('is a fuel cut: what the sensor shows behind it is no evidence', async () => {
    const {
      evidence: {
        sessions: [{ leftOut }],
        cells,
      },
      lean,
    } = await weighed(true);
    // 10 shifts, each a tenth of a second and more.
    assert.ok((leftOut['after-fuel-cut'] ?? 0) + (leftOut['overrun'] ?? 0) > 10 * 5, JSON.stringify(leftOut));
    assert.deepEqual(lean, []);
    for (const { proof, factorLow, factorHigh } of cells)
      if (proof !== 'none') assert.ok(factorLow < 1.01 && factorHigh > 0.99, `${factorLow} to ${factorHigh}`);
  });
  test('without a cut nothing is left out for it', async () => {
    const {
      evidence: {
        sessions: [{ leftOut }],
      },
      lean,
    } = await weighed(false);
    assert.equal(leftOut['after-fuel-cut'], undefined);
    assert.deepEqual(lean, []);
  });
});
