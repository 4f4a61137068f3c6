// Two loops whose sensors are plugged crosswise. Nothing is laid down but what closes the loops: each bank's λ is its air over its fuel,
// each integrator adds fuel while the sensor it has been given reads lean, and none may add or take more than 25 %. Of a sound engine each
// has its own sensor. Two banks that differ by 2 % are then left where they are, and crossed they run apart: what bank 1 adds, bank 2 is
// told of.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { judgedOnStreet, streetDrive } from '../support/oneTableCar.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';

interface Car {
  readonly crossed?: boolean;
  readonly lambda?: 'of the computer' | 'of the bank' | 'none';
  readonly wants?: readonly [number, number];
  readonly misses?: boolean;
}

function drive({ crossed = false, lambda = 'of the computer', wants = [1.01, 0.99], misses = false }: Car): string {
  const trims = [0, 0],
    seen = [1, 1],
    names = ['', ' Bank 2'];
  return streetDrive(
    [
      'Coolant Temperature (°C)',
      'Target Lambda (λ)',
      ...names.flatMap((bank) => [...(lambda === 'none' ? [] : [`Lambda${bank} (λ)`]), `Short Term Fuel Trim${bank} (%)`]),
    ].join(),
    (_timeS, row) => {
      const banks = [0, 1].map(
        (bank) => wants[bank] / (1 + trims[bank] / 100) + (misses && bank === 0 ? 0.3 : 0) + 0.01 * Math.sin(row * 0.5 + bank),
      );
      for (const bank of [0, 1]) seen[bank] += 0.3 * (banks[crossed ? 1 - bank : bank] - seen[bank]);
      for (const bank of [0, 1]) trims[bank] = Math.max(-25, Math.min(25, trims[bank] + 3 * (seen[bank] - 1)));
      return [
        '88',
        '1.000',
        ...[0, 1].flatMap((bank) => [
          ...(lambda === 'none' ? [] : [(lambda === 'of the bank' ? banks[bank] : seen[bank]).toFixed(3)]),
          trims[bank].toFixed(1),
        ]),
      ];
    },
  );
}
const told = (car: Car) =>
  sessionFindings(analyse(readSession(textSource(drive(car))), EMPTY_VEHICLE)).filter(
    ({ code, data }) => data?.kind === 'sensors-crossed' || data?.kind === 'banks-apart' || code === 'misfire-suspected',
  );

suite('two lambda sensors', () => {
  for (const lambda of ['of the computer', 'of the bank', 'none'] as const)
    test(`plugged crosswise are told, and no misfire, by trims and lambda ${lambda}; nothing is corrected`, async () => {
      const [found, ...others] = told({ crossed: true, lambda });
      assert.deepEqual([found.code, found.severity, found.data?.kind, others], ['value-implausible', 'error', 'sensors-crossed', []]);
      assert.match(
        found.message,
        /opposite ends for \d{3} s \((\+2[45] % and −2[45]|−2[45] % and \+2[45]) %.*plugged crosswise.*no more pulls/,
      );
      const { offered, cells } = await judgedOnStreet(drive({ crossed: true, lambda }));
      assert.deepEqual([offered, cells.filter(({ proof }) => proof === 'firm').length], [0, 0]);
    });
  test('each on its own bank are not, where the banks differ by much, a cylinder misses, or one bank is far off', () => {
    for (const car of [{}, { lambda: 'none' }, { wants: [1.15, 0.86] }, { misses: true }, { wants: [1.22, 1] }] as const)
      assert.equal(
        told(car).some(({ data }) => data?.kind === 'sensors-crossed'),
        false,
        JSON.stringify(car),
      );
  });
});
