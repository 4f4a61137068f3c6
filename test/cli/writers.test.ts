// The outputs of `check` are told of one file after the other: what comes out is the same as if all had been there at once.

import assert from 'node:assert/strict';
import { range } from '../../server/src/formats/range.js';
import type { Finding, Severity } from '../../server/src/findings/finding.js';
import type { Checked, Writer } from '../../server/src/cli/check.js';
import { jsonWriter } from '../../server/src/cli/output/json.js';
import { textWriter } from '../../server/src/cli/output/text.js';
import { identityOf } from '../../server/src/service/baseline.js';

const finding = (severity: Severity, message: string): Finding => ({
  code: 'knock',
  severity,
  range: range(3, 0, 4, 1),
  message,
  data: {},
});
const file = (name: string, findings: readonly Finding[], rests: readonly number[] = []): Checked => {
  const identities = findings.map((each) => identityOf(each));
  return {
    uri: `file:///${name}`,
    kind: 'session',
    key: '',
    findings,
    identities,
    place: { file: name, vehicle: 'car' },
    path: name,
    session: { samples: 2, durationS: 0.1, channels: 3, pulls: 0 },
    ...(rests.length > 0 ? { rest: { path: 'known.json', resting: new Set(rests.map((at) => identities[at])) } } : {}),
  };
};

/** What goes to standard output at each step. */
function written(writer: Writer, files: readonly Checked[]): string[] {
  const { write } = process.stdout,
    pieces: string[] = [];
  let piece = '';
  process.stdout.write = (text: string | Uint8Array): boolean => {
    piece += String(text);
    return true;
  };
  try {
    for (const step of [...files.map((each) => () => writer.add(each)), () => writer.end({ failures: [] })]) {
      piece = '';
      step();
      pieces.push(piece);
    }
  } finally {
    process.stdout.write = write;
  }
  return pieces;
}

suite('writers of check', () => {
  test("JSON stands as the language's own writer lays it out, and each file's findings are out before the next file is checked", () => {
    const files = [
      file('quiet.csv', []),
      file('a.csv', [finding('error', 'one\u2028two'), finding('warning', 'three "four"')]),
      file('b.csv', [finding('information', 'five')]),
    ];
    const whole = {
      schema: 1,
      findings: files.flatMap(({ findings, place }) =>
        findings.map(({ code, severity, range: where, message, data }) => ({
          code,
          severity,
          file: place.file,
          range: where,
          message,
          data,
        })),
      ),
      sessions: files.map(({ place, session }) => ({ file: place.file, ...session })),
    };
    const pieces = written(jsonWriter(files.map(({ place }) => place)), files);
    assert.equal(pieces.join(''), `${JSON.stringify(whole, undefined, 1).replace('\u2028', '\\u2028')}\n`);
    assert.deepEqual(
      pieces.map((piece) => [...piece.matchAll(/"message"/g)].length),
      [0, 2, 1, 0],
    );
    assert.equal(written(jsonWriter([]), []).join(''), `${JSON.stringify({ schema: 1, findings: [], sessions: [] }, undefined, 1)}\n`);
  });

  test('what rests is in no output, and the file with the worst comes first whenever it came', () => {
    const files = [
      file('mild.csv', [finding('warning', 'mild')]),
      file('bad.csv', [finding('error', 'bad'), finding('error', 'known')], [1]),
    ];
    const text = written(textWriter(), files).join('');
    assert.ok(text.indexOf('bad.csv') < text.indexOf('mild.csv') && !text.includes('known'), text);
    assert.match(text, /1 error, 1 warning, 0 notes in 2 files\./);
    assert.ok(!written(jsonWriter([]), files).join('').includes('known'));
  });
});
