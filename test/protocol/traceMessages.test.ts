// Messages of the trace view are checked on arrival: what either end sends passes, anything else does not.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { isFromTraceView, isToTraceView, type FromTraceView, type ToTraceView } from '../../server/src/protocol/traceMessages.js';
import { packTables } from '../../server/src/protocol/numberTables.js';
import { TRACE_WORDS } from '../../server/src/protocol/traceWords.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';
import { SAMPLE_CAR } from '../support/sampleDrive.js';

const fromView: FromTraceView[] = [
  { type: 'ready' },
  { type: 'addSession', uris: ['file:///b'] },
  { type: 'openRow', timeS: 1 },
  { type: 'openCell', timeS: 1 },
  { type: 'openPlace', line: 3, character: 0 },
  { type: 'window', ask: 1, channels: ['lambda'], fromS: 0, toS: 1, pixels: 800 },
  { type: 'cursor', ask: 2, timeS: 0.5, place: true },
  { type: 'span', ask: 3, fromS: 0, toS: 1 },
  {
    type: 'runs',
    ask: 4,
    runs: [{ uri: 'file:///a', run: 0 }],
    channels: ['lambda'],
    against: 'speed',
    align: 'match',
    alignRpm: 4000,
    pixels: 800,
  },
  { type: 'copy', channels: [], fromS: 0, toS: 1 },
  { type: 'savePicture', kind: 'svg', bytes: Uint8Array.of(1) },
  { type: 'keep', kept: { lanes: [['lambda']], units: { mixture: 'φ' } } },
];

const toView = async (): Promise<ToTraceView[]> => {
  const workspace = memoryWorkspace(SAMPLE_CAR);
  const { trace } = createLanguageService(workspace);
  const uri = workspace.uri('sessions/run.session.csv');
  // As they are after their way through JSON.
  const plain = <T>(value: T): T => JSON.parse(JSON.stringify(value)) as T;
  const summary = plain((await trace.summary(uri))!),
    sample = plain((await trace.sample({ uri, timeS: 22 }))!);
  return [
    { type: 'session', summary, words: TRACE_WORDS, kept: null },
    { type: 'others', summaries: [summary] },
    { type: 'follow', sample, heard: 2 },
    { type: 'sample', ask: 1, sample },
    { ...(await trace.window({ uri, channels: ['lambda'], fromS: 0, toS: 40, pixels: 100 }))!, type: 'window', ask: 2 },
    { type: 'span', ask: 3, span: plain((await trace.span({ uri, fromS: 0, toS: 9 }))!) },
    {
      ...(await trace.runs({
        uri,
        runs: [{ uri, run: 0 }],
        channels: ['lambda'],
        against: 'speed',
        align: 'start',
        alignRpm: 0,
        pixels: 100,
      }))!,
      type: 'runs',
      ask: 4,
    },
    { type: 'visits', cell: 'cell', visits: [[0, 1]], worstS: null, heard: 0 },
    { type: 'tell', message: '' },
    { type: 'failed', ask: 3, message: '' },
  ];
};

suite('trace messages', () => {
  test('what the ends send passes', async () => {
    for (const message of fromView) assert.ok(isFromTraceView(message), message.type);
    for (const message of await toView()) assert.ok(isToTraceView(message), message.type);
  });

  test('a message without one of its parts, or with one of another kind, does not', async () => {
    const optional = new Set<string>();
    for (const [messages, check] of [
      [fromView, isFromTraceView],
      [await toView(), isToTraceView],
    ] as const) {
      for (const message of messages) {
        for (const key of Object.keys(message).filter((name) => name !== 'type' && !optional.has(name))) {
          const { [key]: _gone, ...rest } = message as unknown as Record<string, unknown>;
          assert.equal(check(rest), false, `${message.type} without ${key}`);
          assert.equal(check({ ...message, [key]: Symbol('other') }), false, `${message.type} with another ${key}`);
        }
      }
    }
    assert.equal(isFromTraceView({ type: 'cursor', ask: 1, timeS: NaN, place: true }), false);
    assert.equal(isFromTraceView({ type: 'openPlace', line: -1, character: 0 }), false);
    assert.equal(isToTraceView({ ...packTables([]), type: 'window', ask: 1, key: '', whole: true, pixels: 1, data: 'text' }), false);
  });

  test('nothing else passes', () => {
    fc.assert(fc.property(fc.anything(), (value) => !isFromTraceView(value) && !isToTraceView(value)));
    for (const type of ['toString', '__proto__', 'constructor']) assert.equal(isFromTraceView({ type }), false);
  });
});
