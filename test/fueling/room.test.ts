// What a weighing takes from the room that the next one uses again: it reads nothing that it did not write, and what it gives is its own.
// Held against weighing in columns of one's own, to the last bit.

import assert from 'node:assert/strict';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { readVehicle } from '../../server/src/formats/vehicle/readVehicle.js';
import { copyOf, inRoom, roomFor } from '../../server/src/fueling/room.js';
import { weighSession } from '../../server/src/fueling/weigh.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { CAR_KINDS, makeCar, simulateDrive, vehicleFolder } from '../support/simulator/index.js';

const LARGE = 2 << 20;
/** What the room holds becomes what no column may hold. */
const spoil = (by: number): void => inRoom(() => void roomFor(LARGE).fill(by));

suite('the room of a weighing', () => {
  test("columns go with the work that took them, the innermost first; outside each is one's own", () => {
    const kept = roomFor(4);
    inRoom(() => {
      const outer = roomFor(3).fill(7),
        copy = inRoom(() => {
          roomFor(5).fill(9);
          return Array.from(copyOf(outer));
        }),
        next = roomFor(5);
      assert.deepEqual(copy, [7, 7, 7]);
      assert.deepEqual([...outer, ...next.fill(1)], [7, 7, 7, 1, 1, 1, 1, 1]);
      assert.equal(next.buffer, outer.buffer);
      assert.ok(next.byteOffset >= outer.byteOffset + outer.byteLength);
    });
    assert.notEqual(roomFor(4).buffer, kept.buffer);
    assert.throws(
      () =>
        inRoom(() => {
          throw new RangeError('thrown on');
        }),
      /thrown on/,
    );
    assert.notEqual(roomFor(4).buffer, kept.buffer);
  });

  for (const kind of CAR_KINDS) {
    test(`${kind}: the same whatever stood there before, and kept whatever comes after`, () => {
      const files = vehicleFolder([simulateDrive({ car: makeCar(kind, 5), seed: 6, minutes: 1, driver: 'mixed', start: 'warm' })]);
      const { vehicle } = readVehicle(files['vehicle.json']),
        table = readTable(files['tables/fuel.table.csv']),
        targetTable = readTable(files['tables/target.table.csv']);
      const weigh = () =>
        weighSession(analyse(readSession(textSource(files['sessions/drive-1.session.csv']), { vehicle }), vehicle, { targetTable }), table);
      spoil(0);
      const first = weigh(),
        asItWas = structuredClone(first);
      assert.ok(first.weight.samples > 0);
      for (const by of [NaN, -1e9]) {
        spoil(by);
        assert.deepEqual(first, asItWas);
        assert.deepEqual(weigh(), asItWas);
      }
    });
  }
});
