// ISO 15765-2 against worked messages; the vehicle number is invented.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { Reassembler, pieceOf } from '../../../server/src/formats/can/transport.js';
import { framesOf } from './frames.js';

const bytesOf = (hex: string): Uint8Array => Uint8Array.from(hex.replaceAll(' ', '').match(/../g) ?? [], (pair) => parseInt(pair, 16));

/** Feeds frames, a hundredth of a second apart; the messages that came in whole, in hex. */
const feed = (frames: readonly string[], reassembler = new Reassembler(), stepS = 0.01): { messages: string[]; incomplete: number } => {
  const messages: string[] = [];
  frames.forEach((frame, index) => {
    const bytes = bytesOf(frame);
    const message = reassembler.take(bytes, bytes.length, index * stepS, index);
    if (message) messages.push(Buffer.from(message.payload.subarray(0, message.length)).toString('hex'));
  });
  reassembler.end();
  return { messages, incomplete: reassembler.incomplete };
};

const VEHICLE_NUMBER = ['10 14 49 02 01 54 45 53', '21 54 56 45 48 31 43 4C', '22 45 30 30 30 30 31 37'];
const THREE_CODES = ['10 08 43 03 01 71 03 00', '21 02 99 00 00 00 00 00'];

suite('transport over CAN', () => {
  test('a single frame: the rest is padding', () => {
    assert.deepEqual(feed(['03 41 0D 64 AA AA AA AA']), { messages: ['410d64'], incomplete: 0 });
  });

  test('worked: vehicle number TESTVEH1CLE000017', () => {
    const { messages } = feed(VEHICLE_NUMBER);
    assert.equal(messages[0].length, 40);
    assert.equal(messages[0].slice(0, 6), '490201');
    assert.equal(Buffer.from(messages[0].slice(6), 'hex').toString('latin1'), 'TESTVEH1CLE000017');
  });

  test('worked: three trouble codes, five bytes of padding dropped', () => {
    assert.deepEqual(feed(THREE_CODES), { messages: ['4303017103000299'], incomplete: 0 });
  });

  test('a lost frame: given up, counted, nothing invented', () => {
    assert.deepEqual(feed([VEHICLE_NUMBER[0], '21 54 56 45 48 31 43 4C', '23 45 30 30 30 30 31 37']), { messages: [], incomplete: 1 });
    assert.deepEqual(feed([VEHICLE_NUMBER[0], VEHICLE_NUMBER[2], ...THREE_CODES]), { messages: ['4303017103000299'], incomplete: 1 });
  });

  test('a new beginning before the old message is whole: the old one is dropped', () => {
    assert.deepEqual(feed([VEHICLE_NUMBER[0], ...THREE_CODES]), { messages: ['4303017103000299'], incomplete: 1 });
    assert.deepEqual(feed([VEHICLE_NUMBER[0], '03 41 0D 64 AA AA AA AA', VEHICLE_NUMBER[1]]), { messages: ['410d64'], incomplete: 1 });
  });

  test('a message whose beginning is not there, or whose end is not, is counted once', () => {
    assert.deepEqual(feed([VEHICLE_NUMBER[1], VEHICLE_NUMBER[2]]), { messages: [], incomplete: 1 });
    assert.deepEqual(feed([VEHICLE_NUMBER[0], VEHICLE_NUMBER[1]]), { messages: [], incomplete: 1 });
  });

  test('flow control of every kind is passed over: go on, wait, overflow; any block size; gaps of 20 ms (14) and 0.1 to 0.9 ms (F1 to F9)', () => {
    const controls = ['30 00 00', '31 00 00', '32 00 00', '30 08 14', '30 00 F1', '30 00 F9 00 00 00 00 00'];
    assert.deepEqual(feed([THREE_CODES[0], ...controls, THREE_CODES[1]]), { messages: ['4303017103000299'], incomplete: 0 });
  });

  test('more than a second between two frames of one message ends it (N_Cr)', () => {
    assert.deepEqual(feed(THREE_CODES, new Reassembler(), 1.2), { messages: [], incomplete: 1 });
    assert.equal(feed(THREE_CODES, new Reassembler(), 1).incomplete, 0);
  });

  test('CAN FD single frame: the length in the second byte', () => {
    assert.deepEqual(feed([`00 0C ${'410C1AF80B640D640F46050A'} 00 00`]), { messages: ['410c1af80b640d640f46050a'], incomplete: 0 });
  });

  test('lengths that no frame can keep: nothing comes of them', () => {
    assert.deepEqual(feed(['00 00 00 00 00 00 00 00', '08 11 22 33 44 55 66 77', '07 41', '0F', '']).messages, []);
    assert.deepEqual(feed(['10 00 00 00 FF FF 00 00', '21 00 00 00 00 00 00 00']), { messages: [], incomplete: 1 });
    assert.deepEqual(feed(['10 05 41 0C 1A F8 00 00', '21 00']).messages, []);
  });

  test('frames needed: 1 + ceil((n − 6) / 7); 20 bytes take 3, 4095 take 586; each byte back in its place', () => {
    assert.deepEqual(
      [20, 4095].map((n) => framesOf('00'.repeat(n)).length),
      [3, 586],
    );
    fc.assert(
      fc.property(
        fc.oneof(fc.uint8Array({ minLength: 1, maxLength: 300 }), fc.uint8Array({ minLength: 4000, maxLength: 4095, size: 'max' })),
        (payload) => {
          const hex = Buffer.from(payload).toString('hex');
          const frames = framesOf(hex);
          assert.equal(frames.length, payload.length <= 7 ? 1 : 1 + Math.ceil((payload.length - 6) / 7));
          const reassembler = new Reassembler();
          frames.forEach((frame, tag) => {
            const message = reassembler.take(bytesOf(frame), 8, tag / 1000, tag);
            assert.equal(message !== undefined, tag === frames.length - 1);
            if (!message) return;
            assert.equal(Buffer.from(message.payload.subarray(0, message.length)).toString('hex'), hex);
            for (const byte of [0, payload.length >> 1, payload.length - 1]) {
              const piece = pieceOf(message, byte);
              const at: number = message.pieceBytes[piece] + byte - message.pieceStarts[piece];
              assert.equal(parseInt(frames[message.pieceTags[piece]].slice(2 * at, 2 * at + 2), 16), payload[byte]);
            }
          });
          assert.equal(reassembler.incomplete, 0);
        },
      ),
      { numRuns: 200 },
    );
  });
});
