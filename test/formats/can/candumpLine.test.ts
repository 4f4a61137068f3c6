// The logger's lines against worked ones. Layout: can-utils lib.h, as read in its public text; the value of the error bit from memory.

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import fc from 'fast-check';
import { dataByteAt, newFrame, readCandumpLine } from '../../../server/src/formats/can/candumpLine.js';
import { pythonWith } from '../../support/python.js';

const encode = (text: string): Uint8Array => new TextEncoder().encode(text);

/** A line as one text: `seconds interface id(+)kind bytes`; or why and where it is refused. */
const read = (text: string): string => {
  const frame = newFrame();
  const bytes = encode(text);
  const refused = readCandumpLine(bytes, 0, bytes.length, frame);
  if (refused) return `${refused.why} at ${refused.at}`;
  const kind =
    [frame.extended ? 'extended' : '', frame.remote ? 'remote' : '', frame.fd ? 'fd' : '', frame.error ? 'error' : '']
      .filter(Boolean)
      .join('+') || 'standard';
  const data = frame.remote ? `length ${frame.length}` : Buffer.from(frame.data.subarray(0, frame.length)).toString('hex');
  return `${frame.wholeS + frame.fractionS} ${text.slice(frame.interfaceStart, frame.interfaceEnd)} ${frame.id.toString(16)} ${kind} ${data}`.trim();
};

const ROWS: readonly [string, string][] = [
  ['(1760000000.250000) can0 7E8#04410C1AF8AAAAAA', '1760000000.25 can0 7e8 standard 04410c1af8aaaaaa'],
  ['(1760000000.300000) can0 18DAF110#0341057B00000000', '1760000000.3 can0 18daf110 extended 0341057b00000000'],
  ['(1760000001.000000) vcan0 123#', '1760000001 vcan0 123 standard'],
  ['(1760000001.000100) can0 123#R7', '1760000001.0001 can0 123 remote length 7'],
  ['(1760000001.000100) can0 123#R', '1760000001.0001 can0 123 remote length 0'],
  ['(1760000001.000200) can0 123##1112233', '1760000001.0002 can0 123 fd 112233'],
  ['(1760000001.000300) can0 20000004#0000000000000000', '1760000001.0003 can0 4 error 0000000000000000'],
  ['(1.5) can0 123#11.22.33', '1.5 can0 123 standard 112233'],
  ['(1.5) can0 7e8#0341abCD', '1.5 can0 7e8 standard 0341abcd'],
  ['  (1.5)\tcan0  7E8#03 R', '1.5 can0 7e8 standard 03'],
  ['(1.5) can0 7E8#0011223344556677_9', '1.5 can0 7e8 standard 0011223344556677'],
  [`(1.5) can0 7E8##0${'AB'.repeat(64)}`, `1.5 can0 7e8 fd ${'ab'.repeat(64)}`],
  // Refused, and where.
  ['(1760000001.0) can0 7E8#123', 'data at 26'],
  ['(1.5) can0 7E8#001122334455667788', 'length at 31'],
  [`(1.5) can0 7E8##0${'AB'.repeat(65)}`, 'length at 145'],
  ['(1.5) can0 7E8#00 and more', 'rest at 17'],
  ['(1.5) can0 7E8#0G', 'data at 15'],
  ['(1.5) can0 7E8#G0', 'rest at 15'],
  ['(1.5) can0 7E8##', 'data at 16'],
  ['(1.5) can0 7E#00', 'identifier at 11'],
  ['(1.5) can0 800#00', 'identifier at 11'],
  ['(1.5) can0 40000000#00', 'identifier at 11'],
  ['(1.5) can0 000007E8A#00', 'identifier at 11'],
  ['(1.5) can0 7E8', 'identifier at 11'],
  ['(1.5) 7E8#00', 'interface at 6'],
  ['(1.5)can0 7E8#00', 'interface at 5'],
  ['1.5 can0 7E8#00', 'clock at 0'],
  ['(1,5) can0 7E8#00', 'clock at 2'],
  ['(1.) can0 7E8#00', 'clock at 3'],
  ['(.5) can0 7E8#00', 'clock at 1'],
  ['(1.5 can0 7E8#00', 'clock at 4'],
  ['(1.5) can0 7E8#R9', 'length at 16'],
  ['(1.5) can0 7E8#00_9', 'rest at 17'],
  ['', 'clock at 0'],
  ['(', 'clock at 1'],
];

suite('lines of a capture', () => {
  for (const [text, expected] of ROWS)
    test(JSON.stringify(text.length > 60 ? `${text.slice(0, 60)}…` : text), () => {
      assert.equal(read(text), expected);
    });

  test('the place of each byte, with and without dots', () => {
    const text = '(1.5) can0 123#11.2233.44';
    const frame = newFrame();
    assert.equal(readCandumpLine(encode(text), 0, text.length, frame), undefined);
    assert.deepEqual(
      [0, 1, 2, 3].map((index) => text.slice(dataByteAt(encode(text), frame, index)).slice(0, 2)),
      ['11', '22', '33', '44'],
    );
  });

  test('any text is read or refused within itself', () => {
    const piece = fc.oneof(
      fc.constantFrom('(', '1.5', ')', ' ', 'can0', '7E8', '18DAF110', '#', '##', 'R', '.', '03', '_9', 'ä', '\0', '\t'),
      fc.string({ maxLength: 4 }),
    );
    fc.assert(
      fc.property(fc.array(piece, { maxLength: 20 }), (pieces) => {
        const bytes = encode(pieces.join(''));
        const frame = newFrame();
        const refused = readCandumpLine(bytes, 0, bytes.length, frame);
        if (refused) assert.ok(refused.at >= 0 && refused.at <= bytes.length);
        else assert.ok(frame.dataStart <= frame.dataEnd && frame.dataEnd <= bytes.length && frame.length <= 64);
      }),
      { numRuns: 3000 },
    );
  });

  // A second opinion where the general-purpose library python-can is at hand.
  test('python-can reads the same frames', function () {
    const lines = ROWS.map(([text]) => text).filter(
      (text) => /^\(\d+\.\d+\) \S+ [0-9A-F]{3,8}#[0-9A-F]{0,16}$/.test(text) && !read(text).includes(' at ') && !text.includes('20000004'),
    );
    const script =
      'import can,sys,tempfile,os\np=os.path.join(tempfile.mkdtemp(),"a.log")\nopen(p,"w").write(sys.stdin.read())\nfor m in can.CanutilsLogReader(p): print("%.6f %x %d %s" % (m.timestamp, m.arbitration_id, m.is_extended_id, bytes(m.data).hex()))';
    const python = pythonWith('can');
    if (!python) this.skip(); // no python-can here: a second opinion only, our own decoder is held to the worked values
    const said = execFileSync(python, ['-c', script], { input: `${lines.join('\n')}\n`, encoding: 'utf8' });
    assert.ok(lines.length >= 3);
    assert.deepEqual(
      said.trim().split('\n'),
      lines.map((text) => {
        const frame = newFrame();
        readCandumpLine(encode(text), 0, text.length, frame);
        return `${(frame.wholeS + frame.fractionS).toFixed(6)} ${frame.id.toString(16)} ${Number(frame.extended)} ${Buffer.from(frame.data.subarray(0, frame.length)).toString('hex')}`;
      }),
    );
  });
});
