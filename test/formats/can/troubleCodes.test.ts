// Trouble codes against worked values: layout SAE J2012 / ISO 15031-6; answers SAE J1979 on ISO 15765-4 (the count byte from memory).

import assert from 'node:assert/strict';
import { codeText, codesOfAnswer } from '../../../server/src/formats/can/troubleCodes.js';
import { readCandump } from '../../../server/src/formats/can/readCandump.js';
import { textSource } from '../../../server/src/formats/source.js';
import { troubleCodeOf } from '../../../server/src/findings/troubleCodes.js';
import { frameLines } from './frames.js';

const TWO_BYTES: readonly [number, string | undefined][] = [
  [0x0171, 'P0171'],
  [0x0300, 'P0300'],
  [0x0299, 'P0299'],
  [0x0420, 'P0420'],
  [0x2195, 'P2195'],
  [0x1130, 'P1130'],
  [0x3400, 'P3400'],
  [0x4035, 'C0035'],
  [0x8001, 'B0001'],
  [0x9001, 'B1001'],
  [0xc100, 'U0100'],
  [0x0a0f, 'P0A0F'],
  [0xffff, 'U3FFF'],
  [0x0000, undefined],
  [0x0304, 'P0304'],
  [0xc073, 'U0073'],
  [0x5234, 'C1234'],
];
const bytesOf = (hex: string): Uint8Array => Uint8Array.from(hex.match(/../g) ?? [], (pair) => parseInt(pair, 16));
const codesOf = (hex: string): string[] => codesOfAnswer(bytesOf(hex), hex.length / 2).codes.map(({ text }) => text);

suite('trouble codes on the bus', () => {
  for (const [bytes, code] of TWO_BYTES) {
    test(`${bytes.toString(16).padStart(4, '0')} is ${code ?? 'no code'}`, () => {
      assert.equal(codeText(bytes >> 8, bytes & 255), code);
    });
  }

  test('each pair of bytes but 00 00 is a code of its own, and each is one that can be read', () => {
    const seen = new Set<string>();
    for (let bytes = 1; bytes < 65536; bytes++) {
      const code = codeText(bytes >> 8, bytes & 255) ?? '';
      assert.equal(troubleCodeOf(code)?.code, code);
      seen.add(code);
    }
    assert.equal(seen.size, 65535);
  });

  test('not codes (SAE J2012: first digit 0 to 3, letter P C B U, four hex digits)', () => {
    for (const text of ['P4123', 'X0171', 'P017', 'P01G1']) assert.equal(troubleCodeOf(text), undefined);
  });

  test('answers on CAN carry a count', () => {
    assert.deepEqual(codesOf('430201710300'), ['P0171', 'P0300']);
    assert.deepEqual(codesOf('4300'), []);
    assert.deepEqual(codesOf('4303017103000299'), ['P0171', 'P0300', 'P0299']);
    assert.deepEqual(codesOf('43020171000000'), ['P0171']);
  });

  test('never more codes than bytes came', () => {
    for (const [hex, codes, short] of [
      ['43', [], true],
      ['4305', [], true],
      ['43050171', ['P0171'], true],
      ['4301017103', ['P0171'], false],
    ] as const) {
      const answer = codesOfAnswer(bytesOf(hex), hex.length / 2);
      assert.deepEqual([answer.codes.map(({ text }) => text), answer.short], [codes, short]);
    }
  });

  test('stored, pending and permanent codes of two controllers, each told once', () => {
    const session = readCandump(
      textSource(
        frameLines([
          { id: '7E8', payload: '43020171030A' },
          { id: '7E8', payload: '43020171030A' },
          { id: '7E8', payload: '47010171' },
          { id: '7E9', payload: '43010171' },
          { id: '7E9', payload: '4A01C100' },
        ]),
      ),
    );
    assert.deepEqual(
      session.codes.map(({ text, state, controller, line }) => [text, state, controller, line]),
      [
        ['P0171', 'stored', '7E8', 0],
        ['P030A', 'stored', '7E8', 0],
        ['P0171', 'pending', '7E8', 2],
        ['P0171', 'stored', '7E9', 3],
        ['U0100', 'permanent', '7E9', 4],
      ],
    );
  });
});
