// An air-cooled engine: its cylinder heads work at 130 to 190 °C, where no coolant could be. Warm it is by them all the same.

import assert from 'node:assert/strict';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';

const check = async (header: string, celsius: (timeS: number) => number, vehicle = '{}') => {
  const rows = [`Time (s),Engine Speed (rpm),Throttle (%),Manifold Pressure (kPa),Lambda (λ),${header}`];
  for (let row = 0; row < 10 * 400; row++) {
    const timeS = row / 10;
    rows.push(
      [
        timeS.toFixed(1),
        (2400 + 500 * Math.sin(timeS / 9)).toFixed(0),
        (15 + 4 * Math.sin(timeS / 5)).toFixed(1),
        (50 + 8 * Math.sin(timeS / 5)).toFixed(1),
        (1 + 0.01 * Math.sin(row * 2.3)).toFixed(3),
        celsius(timeS).toFixed(0),
      ].join(','),
    );
  }
  const workspace = memoryWorkspace(`=== vehicle.json\n${vehicle}\n=== a.session.csv\n${rows.join('\n')}\n`),
    service = createLanguageService(workspace);
  const checked = (await service.check(workspace.uri('a.session.csv')))!;
  return checked.findings
    .filter(({ code }) => code === 'value-implausible' || code === 'coolant-hot' || code === 'sensor-dropout')
    .map(({ code, severity }) => `${severity} ${code}`);
};
const heads = (timeS: number): number => 30 + 145 * (1 - Math.exp(-timeS / 90)) + 12 * Math.sin(timeS / 25);

suite('the temperature of a cylinder head', () => {
  test("is neither another unit's nor overheated coolant at 190 °C", async () => {
    assert.deepEqual(await check('Cylinder Head Temperature (°C)', heads), []);
  });
  test('that no head lasts is told', async () => {
    assert.ok((await check('Cylinder Head Temperature (°C)', (timeS) => (timeS > 200 && timeS < 260 ? 400 : heads(timeS)))).length > 0);
  });
  test('of coolant the same numbers are told, by name or by what vehicle.json calls the column', async () => {
    assert.ok((await check('Coolant Temperature (°C)', heads)).some((told) => told.startsWith('error')));
    assert.ok(
      (
        await check(
          'Cylinder Head Temperature (°C)',
          (timeS) => Math.min(heads(timeS), 125),
          '{ "channels": { "Cylinder Head Temperature (°C)": { "quantity": "coolant-temperature", "unit": "°C" } } }',
        )
      ).includes('error coolant-hot'),
    );
  });
});
