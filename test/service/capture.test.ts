// A raw CAN capture through the whole service: known by its name, found in its car's folder, judged, and readable under the mouse.

import assert from 'node:assert/strict';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { frameLines, lineAt } from '../formats/can/frames.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';

const CAPTURE = frameLines([
  ...Array.from({ length: 40 }, (_, index) => ({ id: '7E8', payload: `410C1AF8${index % 2 === 0 ? '0B64' : '0B63'}` })),
  { id: '7E8', payload: '43010171' },
  { id: '7E9', payload: '47020171C100' },
  { id: '7E8', payload: '4A00' },
]);

const files = `
=== vehicle.json
{ "sessions": ["extra/*.log"] }
=== drive.candump.log
${CAPTURE}
=== extra/unnamed.log
${CAPTURE}
=== other.log
${lineAt(0, '123', '00')}
`;

suite('captures in the service', () => {
  const workspace = memoryWorkspace(files);
  const service = createLanguageService(workspace);
  const drive = workspace.uri('drive.candump.log');

  test('by name, by the vehicle, by the first frames', async () => {
    assert.deepEqual(await service.kindOf(drive), { kind: 'session', from: 'name' });
    assert.deepEqual(await service.kindOf(workspace.uri('extra/unnamed.log')), { kind: 'session', from: 'vehicle' });
    assert.equal(await service.kindOf(workspace.uri('other.log')), undefined);
    const alone = memoryWorkspace(`=== plain.log\n${CAPTURE}`);
    assert.deepEqual(await createLanguageService(alone).kindOf(alone.uri('plain.log')), { kind: 'session', from: 'head' });
  });

  test('the folder search finds it', async () => {
    const found = (await service.filesBelow(workspace.folders[0])).map(({ uri, kind }) => `${kind} ${uri.slice(workspace.uri('').length)}`);
    assert.deepEqual(found, ['vehicle vehicle.json', 'session drive.candump.log', 'session extra/unnamed.log']);
  });

  test('codes are findings at their bytes, once each, with how they are held', async () => {
    for (const uri of [drive, workspace.uri('extra/unnamed.log')]) {
      const codes = (await service.check(uri))!.findings.filter(({ code }) => code === 'trouble-code');
      assert.deepEqual(
        codes.map(({ range, message }) => [range.start.line, message.slice(0, message.indexOf(':'))]),
        [
          [40, 'P0171 (stored in 7E8, pending in 7E9)'],
          [41, 'U0100 (pending in 7E9)'],
        ],
      );
      assert.match(codes[1].message, /seen once and not yet confirmed/);
      assert.doesNotMatch(codes[0].message, /not yet confirmed/);
    }
  });

  test('a reading under the mouse says what it is', async () => {
    const signals = (await service.documents.signals(drive))!.value;
    const speed = signals.session.channels.find(({ quantity }) => quantity === 'engine-speed')!;
    const { start } = signals.session.places.cellRange(speed.index, 3);
    const hover = await service.hover(drive, start);
    assert.match(JSON.stringify(hover), /Engine speed: 1726 rpm/);
  });
});
