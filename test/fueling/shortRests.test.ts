// A throttle that shuts and opens again, as for a change of gear. By hand: the manifold empties and fills by first-order ways, and the
// controller, whose table is right throughout, adds a fifth more fuel as it opens, which goes within 0.15 s (common practice for
// enrichment). Nothing of this is the table's.

import assert from 'node:assert/strict';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { markShortRests, markUnseen } from '../../server/src/fueling/doubts/leftOut.js';
import { judge, weighSession } from '../../server/src/fueling/weigh.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { normalFrom, randomFrom, sessionOf } from './tinyEngine.js';

const STEP_S = 0.04,
  EVERY_S = 6,
  SHUT_S = 0.4,
  LATE_S = 0.1;

/** What stands in the log: 90 kPa with the throttle open, towards 30 while it is shut; lambda is seen 0.1 s late. */
const drive = () => {
  const normal = normalFrom(randomFrom(4)),
    timeS = Array.from({ length: 6000 }, (_, i) => i * STEP_S);
  let kPa = 90;
  const manifold = timeS.map((t) => {
    kPa += ((t % EVERY_S < SHUT_S ? 30 : 90) - kPa) * (1 - Math.exp(-STEP_S / 0.15));
    return kPa;
  });
  const lambda = timeS.map((t) => {
    const sinceS = ((t - LATE_S + EVERY_S) % EVERY_S) - SHUT_S;
    return (sinceS > 0 ? 1 - 0.2 * Math.exp(-sinceS / 0.15) : 1) * Math.exp(0.003 * normal());
  });
  return analyse(
    sessionOf(timeS, [
      { quantity: 'engine-speed', values: Float64Array.from(timeS, () => 2500 + 5 * normal()) },
      { quantity: 'manifold-pressure', values: Float64Array.from(manifold, (each) => each + 0.3 * normal()) },
      { quantity: 'lambda', values: Float64Array.from(lambda) },
      { quantity: 'target-lambda', values: new Float64Array(timeS.length).fill(1) },
    ]),
    { ...EMPTY_VEHICLE, lambdaSensor: { ...EMPTY_VEHICLE.lambdaSensor, transportDelay: LATE_S } },
  );
};

suite('a rest too short to be one', () => {
  test('while the throttle shuts and opens, enrichment is not taken for the table', () => {
    const table = readTable(
      `# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,2000,3000\n${[30, 50, 70, 90].map((row) => `${row},80,80`).join('\n')}\n`,
    );
    const { cells } = judge(table, [weighSession(drive(), table)]);
    for (const { row, proof, factor } of cells)
      assert.ok(proof === 'none' || Math.abs(factor - 1) < 0.015, `row ${row}: ${proof} ${factor}`);
    assert.notEqual(cells[6].proof, 'none');
  });

  test('is one beside unrest that passes the limit now and then, after as long as it takes to settle, and in another recording', () => {
    const left = (change: number[], timeS = change.map((_, i) => i * 0.1)) => {
      const reason = new Uint8Array(change.length);
      markShortRests(reason, Float64Array.from(change), 0.08, Float64Array.from(timeS), 0.5);
      return [...reason].map((each) => (each ? 'x' : '.')).join('');
    };
    assert.equal(left([0, -0.4, 0, 0.02, 0.1, 0, 0]), '..xx...');
    assert.equal(left([0, -0.1, 0, 0.02, 0.2, 0, 0]), '..xx...');
    assert.equal(left([0, -0.1, 0, 0.02, 0.1, 0, 0]), '.......');
    assert.equal(left([0.4, 0, 0, 0, 0, 0, 0.4]), '.......');
    assert.equal(left([0.4, 0, 0, 0.4], [9, 9.1, 0, 0.1]), '....');
  });

  test('what moved between two readings of a repeated channel moved anywhere between them; the readings themselves are known', () => {
    const left = (fresh: Int32Array | undefined) => {
      const reason = new Uint8Array(9);
      markUnseen(reason, fresh, Float64Array.of(0, 0, 0.01, 0.02, 0.3, 0.58, 0.86, 0.86, 0.87), 0.08);
      return [...reason].map((each) => (each ? 'x' : '.')).join('');
    };
    assert.equal(left(Int32Array.of(0, 3, 6, 8)), '....xx...');
    assert.equal(left(undefined), '.........');
  });
});
