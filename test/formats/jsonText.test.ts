// A JSON text's errors in words: one a slip, at the slip.

import assert from 'node:assert/strict';
import { readVehicle } from '../../server/src/formats/vehicle/readVehicle.js';

suite('vehicle.json: a comma before a closing bracket', () => {
  for (const [text, line, character] of [
    ['{ "name": "Coupe", }', 0, 17],
    ['{\n  "name": "Coupe",\n}\n', 1, 17],
    ['{ "sessions": ["a.session.csv", ] }', 0, 30],
    ['{ "engine": { "cylinders": 4, }, "name": "x" }', 0, 28],
  ] as const) {
    test(JSON.stringify(text), () => {
      const { problems, vehicle } = readVehicle(text);
      assert.deepEqual(
        problems.map(({ kind, data, range }) => [kind, data.what, range]),
        [
          [
            'syntax',
            'a comma stands before the closing bracket: take it out',
            { start: { line, character }, end: { line, character: character + 1 } },
          ],
        ],
      );
      assert.ok(vehicle.name !== undefined || vehicle.sessions.length === 1);
    });
  }
});
