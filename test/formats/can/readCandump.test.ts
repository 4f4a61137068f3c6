// A capture as a session: controllers apart, places, what is left and told, and that nothing in a file can break the reader.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { looksLikeCandump, readCandump, readCandumpBy } from '../../../server/src/formats/can/readCandump.js';
import { EMPTY_VEHICLE } from '../../../server/src/formats/vehicle/vehicle.js';
import { channelOf, type Session } from '../../../server/src/formats/session/session.js';
import type { Range } from '../../../server/src/formats/range.js';
import { bytesSource, textSource } from '../../../server/src/formats/source.js';
import { framesOf, lineAt } from './frames.js';

const read = (text: string): Session => readCandump(textSource(text));
const textAt = (text: string, { start, end }: Range): string => {
  assert.equal(start.line, end.line);
  return text.split('\n')[start.line].slice(start.character, end.character);
};
const problemsOf = (session: Session): string[] =>
  session.problems.map(({ code, kind, count, range }) => `${code} ${kind} ×${count} line ${range.start.line}`);

const DRIVE = [
  lineAt(0, '7DF', '02010C5555555555'),
  lineAt(4_000, '7E8', '04410C1AF8AAAAAA'),
  lineAt(5_000, '7E9', '04410C1AF0AAAAAA'),
  lineAt(100_000, '18DAF110', '0341057B00000000'),
  lineAt(200_000, '7E8', '06410C1B000B64AA'),
  lineAt(250_000, '7E8', '03410B65AAAAAAAA'),
].join('\n');

suite('captures as sessions', () => {
  test('time counts from the first frame, each channel is blank where it was not answered', () => {
    const session = read(DRIVE);
    assert.deepEqual(
      [...session.timeS].map((timeS) => Number(timeS.toFixed(9))),
      [0.004, 0.005, 0.1, 0.2, 0.25],
    );
    assert.equal(session.time.startIso, '2025-10-09T08:53:20.000Z');
    assert.deepEqual([...(channelOf(session, 'engine-speed')?.values ?? [])], [1726, NaN, NaN, 1728, NaN]);
    assert.deepEqual([...(channelOf(session, 'manifold-pressure')?.values ?? [])], [NaN, NaN, NaN, 100, 101]);
    assert.deepEqual(
      session.channels.map(({ filled, values }) => [filled, values.filter((value) => !Number.isNaN(value)).length]),
      [
        [1, 1],
        [2, 2],
        [2, 2],
        [1, 1],
      ],
    );
    assert.deepEqual(session.problems, []);
  });

  test('the first controller to answer has the plain name, the others their own behind it; two buses are told apart', () => {
    const text = `${DRIVE}\n${lineAt(300_000, '7E8', '03410B66AAAAAAAA', 'can1')}`;
    assert.deepEqual(
      read(text).channels.map(({ name, quantity }) => `${name}: ${quantity}`),
      [
        'Coolant temperature: coolant-temperature',
        'Manifold pressure: manifold-pressure',
        'Manifold pressure (7E8 on can1): manifold-pressure',
        'Engine speed: engine-speed',
        'Engine speed (7E9): engine-speed',
      ],
    );
  });

  test('a cell is the bytes that carried the reading, and the way back finds channel and sample', () => {
    const session = read(DRIVE);
    const speed = channelOf(session, 'engine-speed')!.index;
    const pressure = channelOf(session, 'manifold-pressure')!.index;
    assert.equal(textAt(DRIVE, session.places.cellRange(speed, 3)), '1B00');
    assert.equal(textAt(DRIVE, session.places.cellRange(pressure, 3)), '64');
    assert.equal(textAt(DRIVE, session.places.cellRange(pressure, 0)), '04410C1AF8AAAAAA');
    assert.equal(textAt(DRIVE, session.places.cellRange(-1, 3)), '(1760000000.200000)');
    assert.equal(session.places.cellText(speed, 3), '1728');
    assert.deepEqual(
      [0, 1, 2, 3, 4, 5].map((line) => session.places.sampleAt(line)),
      [undefined, 0, 1, 2, 3, 4],
    );
    session.channels.forEach((channel) =>
      channel.values.forEach((value, sample) => {
        if (Number.isNaN(value)) return;
        const { start } = session.places.cellRange(channel.index, sample);
        assert.equal(session.places.channelAt(start.line, start.character), channel.index);
        assert.equal(session.places.sampleAt(start.line), sample);
        assert.equal(session.places.lineOf(sample), start.line);
      }),
    );
    assert.equal(session.places.channelAt(4, 3), -1);
    assert.equal(session.places.channelAt(0, 30), undefined);
  });

  test('answers over several frames, interleaved: each reading at the frame that carried it', () => {
    const long = framesOf('410C1AF80B640D32110F1040');
    const codes = framesOf('4303017103000299');
    assert.deepEqual([long.length, codes.length], [2, 2]);
    // 41 0C 1A F8 0B 64 | 0D 32 11 0F 10 40: the air flow's two bytes are cut short, so nothing is made of them.
    const text = [
      lineAt(0, '7E8', long[0]),
      lineAt(1000, '7E9', codes[0]),
      lineAt(2000, '7E8', '300000AAAAAAAAAA'),
      lineAt(3000, '7E8', long[1]),
      lineAt(4000, '7E9', codes[1]),
    ].join('\n');
    const session = read(text);
    const cell = (quantity: 'engine-speed' | 'vehicle-speed' | 'throttle'): [number, string] => {
      const range = session.places.cellRange(channelOf(session, quantity)!.index, 0);
      return [range.start.line, textAt(text, range)];
    };
    assert.deepEqual(
      [cell('engine-speed'), cell('vehicle-speed'), cell('throttle')],
      [
        [0, '1AF8'],
        [3, '32'],
        [3, '0F'],
      ],
    );
    assert.equal(session.places.sampleAt(0), 0);
    assert.deepEqual(
      session.codes.map(({ text: code, range }) => [code, range.start.line, textAt(text, range)]),
      [
        ['P0171', 1, '0171'],
        ['P0300', 1, '0300'],
        ['P0299', 4, '0299'],
      ],
    );
    assert.deepEqual(problemsOf(session), ['row-ragged answer-short ×1 line 3']);
  });

  test('lines that are no frames are grouped, incomplete answers and other traffic counted', () => {
    const text = [
      'what is this',
      'and this',
      ...DRIVE.split('\n'),
      lineAt(260_000, '123', '00'),
      lineAt(260_500, '123', 'R1'),
      lineAt(261_000, '20000004', '0000000000000000'),
      lineAt(270_000, '7E8', '1014490201544553'),
      lineAt(280_000, '7E8', '2354564548314 34C'),
      lineAt(290_000, '7E8', '2200000000000000'),
      lineAt(300_000, '7E8', '037F0112AAAAAAAA'),
      lineAt(310_000, '7E8', '0462F19000AAAAAA'),
      '',
      '# a note',
      '(1760000001.0',
    ].join('\n');
    const session = read(text);
    assert.deepEqual(problemsOf(session), [
      'value-not-a-number not-a-frame ×2 line 0',
      'channel-missing frames-left ×5 line 8',
      'row-ragged incomplete-message ×1 line 11',
      'value-not-a-number not-a-frame ×1 line 12',
      'row-ragged frame-cut-off ×1 line 18',
    ]);
    const left = session.problems.find(({ kind }) => kind === 'frames-left')!.data;
    assert.deepEqual([left.otherFrames, left.refused, left.otherServices], [3, 1, 1]);
    assert.deepEqual(
      session.notes.map((note) => note.text),
      ['a note'],
    );
  });

  test('a file without frames, without answers, and an empty one say so', () => {
    assert.deepEqual(problemsOf(read('')), ['channel-missing empty ×1 line 0']);
    assert.deepEqual(problemsOf(read('a,b\n1,2\n')), ['channel-missing no-frames ×2 line 0']);
    assert.deepEqual(problemsOf(read(`${lineAt(0, '7DF', '02010C')}\n`)), ['channel-missing no-answers ×1 line 0']);
  });

  test('clock steps back start a recording; a hole is told', () => {
    const at = (microseconds: number): string => `${lineAt(microseconds, '7E8', '04410C1AF8AAAAAA')}\n`;
    const steady = (from: number): string => Array.from({ length: 30 }, (_, index) => at(from + index * 100_000)).join('');
    const back = read(steady(5_000_000) + steady(0));
    assert.deepEqual([...back.recordingStarts], [0, 30]);
    assert.deepEqual(problemsOf(back), ['time-reversed step-back ×1 line 30']);
    assert.deepEqual(problemsOf(read(steady(0) + steady(20_000_000))), ['time-gap gap ×1 line 29']);
  });

  test('a vehicle file may map a channel to another quantity, with a scale', () => {
    const vehicle = {
      ...EMPTY_VEHICLE,
      channels: new Map([
        [
          'Commanded throttle',
          {
            quantity: 'lambda' as const,
            scale: [
              [0, 0.5],
              [100, 1.5],
            ] as const,
          },
        ],
        ['Throttle position B', { quantity: 'pedal' as const }],
      ]),
    };
    const session = readCandump(textSource(`${lineAt(0, '7E8', '03414CFFAAAAAAAA')}\n${lineAt(1000, '7E8', '034147FFAAAAAAAA')}\n`), {
      vehicle,
    });
    assert.deepEqual([channelOf(session, 'lambda')?.values[0], channelOf(session, 'pedal')?.values[1]], [1.5, 100]);
  });

  test('notes silence codes and tell the barometer, as in any session', () => {
    const session = read(`# ignore: trouble-code\n# barometer: 95 kPa\n${lineAt(0, '7E8', '0441590258AAAAAA')}\n`);
    assert.deepEqual(session.ignored, ['trouble-code']);
    assert.equal(channelOf(session, 'fuel-pressure')?.values[0], 6000 - 95);
  });

  test('what begins with a frame looks like a capture', () => {
    for (const [text, looks] of [
      [DRIVE, true],
      [`# note\n\n${DRIVE}`, true],
      ['Time,rpm\n0,900\n', false],
      ['', false],
      ['(1.5) can0 7E8#0', false],
    ] as const)
      assert.equal(looksLikeCandump(textSource(text)), looks);
  });

  // Hostile files.
  const line = fc.oneof(
    fc
      .record({ id: fc.constantFrom('7E8', '7E9', '18DAF110', '123', '7DF'), data: fc.uint8Array({ maxLength: 9 }), at: fc.nat(3_000_000) })
      .map(({ id, data, at }) => lineAt(at, id, Buffer.from(data).toString('hex'))),
    fc
      .record({
        first: fc.constantFrom('10', '21', '22', '2F', '03', '06', '02', '07', '30', '1F'),
        rest: fc.uint8Array({ minLength: 7, maxLength: 7 }),
        at: fc.nat(1000),
      })
      .map(({ first, rest, at }) => lineAt(at, '7E8', first + Buffer.from(rest).toString('hex'))),
    fc
      .record({ first: fc.constantFrom('0441', '0643', '0347', '034A', '037F'), rest: fc.uint8Array({ minLength: 6, maxLength: 6 }) })
      .map(({ first, rest }) => lineAt(5, '7E9', first + Buffer.from(rest).toString('hex'))),
    fc.string({ maxLength: 30 }),
    fc.constantFrom(
      '',
      '# ignore: x',
      'x'.repeat(3000),
      'ä(1.5) can0',
      '(99999999999999.1) can0 7E8#00',
      '(999999999999.1) can0 7E8#03410D00',
    ),
  );
  const file = fc
    .record({ lines: fc.array(line, { maxLength: 40 }), ends: fc.constantFrom('\n', '\r\n', '\r') })
    .map(({ lines, ends }) => lines.join(ends));
  const digest = (session: Session): unknown => [
    [...session.timeS],
    session.channels.map(({ header, headerRange, values, filled }) => [header, headerRange, [...values], filled]),
    session.codes,
    session.problems,
    session.notes,
    session.recordingStarts,
  ];

  test('any file reads, and in chunks of any size the same', () => {
    fc.assert(
      fc.property(file, fc.integer({ min: 1, max: 300 }), (text, chunkBytes) => {
        assert.deepEqual(digest(readCandumpBy(textSource(text), {}, chunkBytes)), digest(read(text)));
      }),
      { numRuns: 400 },
    );
  });

  test('any bytes read; a file cut off anywhere reads', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 400 }), (bytes) => {
        assert.ok(readCandump(bytesSource(bytes)).samples >= 0);
      }),
      { numRuns: 300 },
    );
    const bytes = new TextEncoder().encode(DRIVE);
    for (let length = 0; length <= bytes.length; length++) assert.ok(readCandump(bytesSource(bytes.subarray(0, length))).samples >= 0);
  });

  test('every place of any file lies within its text, and spans run forwards', () => {
    fc.assert(
      fc.property(file, (text) => {
        const session = read(text);
        const lines = text.split(/\r\n|\n|\r/);
        for (const { index } of session.channels) {
          for (let sample = 0; sample < session.samples; sample++) {
            const { start, end } = session.places.cellRange(index, sample);
            assert.ok(start.line === end.line && start.character < end.character && end.character <= lines[start.line].length);
            const span = session.places.spanRange(index, 0, sample);
            assert.ok(span.end.line > span.start.line || (span.end.line === span.start.line && span.end.character >= span.start.character));
          }
        }
      }),
      { numRuns: 200 },
    );
  });

  test('identifiers beyond any car do not fill the memory', () => {
    const lines = Array.from({ length: 256 }, (_, unit) =>
      [0x0c, 0x05, 0x34]
        .map((identifier) =>
          lineAt(
            unit,
            `18DAF1${unit.toString(16).toUpperCase().padStart(2, '0')}`,
            `0641${identifier.toString(16).padStart(2, '0')}80008000`.padEnd(16, '0'),
          ),
        )
        .join('\n'),
    );
    const session = read(lines.join('\n'));
    assert.ok(session.channels.length <= 1024);
    assert.ok(session.problems.some(({ kind }) => kind === 'frames-left'));
  });
});
