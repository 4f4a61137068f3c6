// Two simulated drives of one car in a folder: what the table's evidence and a reading of either drive say of the transport delay, against
// the simulator's truth.

import assert from 'node:assert/strict';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { delayAlongS } from '../../server/src/signals/mixture/delay.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';
import { delayAtFlow, makeCar, simulateDrive, vehicleFolder } from '../support/simulator/index.js';
import { middleFlowGPerS } from '../support/simulator/truth.js';

suite('the transport delay of a folder', function () {
  this.timeout(120000);

  test('is told by both drives together, near the truth of each, and a reading is placed by the same', async () => {
    const car = makeCar('natural', 311),
      first = simulateDrive({ car, seed: 1, minutes: 6, driver: 'mixed', start: 'warm' });
    const drives = [first, simulateDrive({ car, seed: 2, minutes: 6, driver: 'street', start: 'warm', fuelTable: first.truth.fuelTable })];
    const workspace = memoryWorkspace(
        Object.entries(vehicleFolder(drives))
          .map(([name, text]) => `=== ${name}\n${text}`)
          .join(''),
      ),
      { weigher } = createLanguageService(workspace);
    const uris = drives.map((_, at) => workspace.uri(`sessions/drive-${at + 1}.session.csv`));
    await weigher.weighAhead(uris[0]);
    assert.equal((await weigher.delaySoFar(uris[0]))?.transportDelay.byCar, undefined);
    const evidence = await weigher.evidence(workspace.uri('tables/fuel.table.csv'));
    for (const [at, drive] of drives.entries()) {
      const { transportDelay } = evidence!.value.sessions.find(({ session }) => session === uris[at])!,
        flow = middleFlowGPerS(drive),
        { wholeS } = delayAtFlow(drive, flow);
      assert.equal(transportDelay.byCar, true);
      assert.ok(
        Math.abs(delayAlongS(transportDelay.byFlow, flow) - wholeS) < 0.025,
        `${delayAlongS(transportDelay.byFlow, flow)} for ${wholeS}`,
      );
      assert.deepEqual((await weigher.delaySoFar(uris[at]))?.transportDelay, transportDelay);
    }
  });
});
