// Messages of a table's picture are checked on arrival: what either end sends passes, anything else does not.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { isFromTableView, isToTableView, type FromTableView, type ToTableView } from '../../server/src/protocol/tableMessages.js';
import { TABLE_WORDS } from '../../server/src/protocol/tableWords.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';
import { SAMPLE_CAR } from '../support/sampleDrive.js';

const span = { startLine: 3, startCharacter: 0, endLine: 3, endCharacter: 4 };
const fromView: FromTableView[] = [
  { type: 'ready', duty: false },
  { type: 'duty' },
  { type: 'select', spans: [span], open: true },
  { type: 'runs', ask: 1, session: 'file:///a' },
  { type: 'path', ask: 2, session: 'file:///a', run: 0 },
  { type: 'moments', line: 3, character: 4 },
  { type: 'correct', spans: [span, span] },
];

const toView = async (): Promise<ToTableView[]> => {
  const workspace = memoryWorkspace(SAMPLE_CAR);
  const { tablePicture } = createLanguageService(workspace);
  const uri = workspace.uri('tables/ve.table.csv');
  // As they are after their way through JSON.
  const plain = <T>(value: T): T => JSON.parse(JSON.stringify(value)) as T;
  return [
    { type: 'picture', picture: plain((await tablePicture.picture({ uri, duty: true }, 10))!), words: TABLE_WORDS },
    { type: 'selected', spans: [span] },
    { type: 'runs', ask: 1, runs: [{ run: 0, pull: 1, direction: 'up', fromS: 20, words: '' }] },
    { type: 'path', ask: 2, path: plain((await tablePicture.path({ uri, session: workspace.uri('sessions/run.session.csv'), run: 0 }))!) },
    { type: 'tell', message: '' },
    { type: 'failed', ask: 3, message: '' },
  ];
};

suite('table messages', () => {
  test('what the ends send passes', async () => {
    for (const message of fromView) assert.ok(isFromTableView(message), message.type);
    assert.ok(isFromTableView({ type: 'correct', spans: null }));
    for (const message of await toView()) assert.ok(isToTableView(message), message.type);
  });

  test('a message without one of its parts, or with one of another kind, does not', async () => {
    for (const [messages, check] of [
      [fromView, isFromTableView],
      [await toView(), isToTableView],
    ] as const) {
      for (const message of messages) {
        for (const key of Object.keys(message).filter((name) => name !== 'type')) {
          const { [key]: _gone, ...rest } = message as unknown as Record<string, unknown>;
          assert.equal(check(rest), false, `${message.type} without ${key}`);
          assert.equal(check({ ...message, [key]: Symbol('other') }), false, `${message.type} with another ${key}`);
        }
      }
    }
    const [{ picture, words }] = (await toView()) as [Extract<ToTableView, { type: 'picture' }>];
    assert.equal(isToTableView({ type: 'picture', words, picture: { ...picture, cells: picture.cells.slice(1) } }), false);
    assert.equal(
      isToTableView({
        type: 'picture',
        words,
        picture: { ...picture, cells: picture.cells.map((cell) => ({ ...cell, evidence: { proof: 'sure' } })) },
      }),
      false,
    );
    assert.equal(isFromTableView({ type: 'moments', line: -1, character: 0 }), false);
  });

  test('nothing else passes', () => {
    fc.assert(fc.property(fc.anything(), (value) => !isFromTableView(value) && !isToTableView(value)));
    for (const type of ['toString', '__proto__', 'constructor']) assert.equal(isFromTableView({ type }), false);
  });
});
