// Pins in the author's vehicle file: a line each, and his text as it was.

import assert from 'node:assert/strict';
import { parse, type ParseError } from 'jsonc-parser';
import { withPins, type Pin } from '../../server/src/service/vehiclePins.js';

const PINS: readonly Pin[] = [
  { files: 'a.csv', loggedWith: 't.csv' },
  { files: 'b "x".csv', loggedWith: 't.csv' },
];
const [A, B] = ['{ "files": "a.csv", "loggedWith": "t.csv" }', '{ "files": "b \\"x\\".csv", "loggedWith": "t.csv" }'];

const CASES: Record<string, readonly [before: string, after: string]> = {
  'a list on one line': [
    '{\n  "name": "x",\n  "engine": { "cylinders": 4 },\n  "sessions": ["s/*.csv"]\n}\n',
    `{\n  "name": "x",\n  "engine": { "cylinders": 4 },\n  "sessions": [\n    "s/*.csv",\n    ${A},\n    ${B}\n  ]\n}\n`,
  ],
  'two on one line, tabs, blanks within': [
    '{\n\t"sessions": [ "a", "b" ], // mine\n\t"name": "x"\n}',
    `{\n\t"sessions": [\n\t\t"a", "b",\n\t\t${A},\n\t\t${B}\n\t], // mine\n\t"name": "x"\n}`,
  ],
  'a list of lines with a comment, four blanks, CRLF': [
    '{\r\n    "sessions": [\r\n        "a" // all\r\n    ]\r\n}\r\n',
    `{\r\n    "sessions": [\r\n        "a", // all\r\n        ${A},\r\n        ${B}\r\n    ]\r\n}\r\n`,
  ],
  "a trailing comma stays the author's way": [
    '{\n  "sessions": [\n    "a", /* , ] */\n  ],\n}',
    `{\n  "sessions": [\n    "a", /* , ] */\n    ${A},\n    ${B},\n  ],\n}`,
  ],
  'an empty list': ['{\n  "sessions": []\n}', `{\n  "sessions": [\n    ${A},\n    ${B}\n  ]\n}`],
  'an empty list with a comment': ['{\n  "sessions": [ /* none */ ]\n}', `{\n  "sessions": [ /* none */\n    ${A},\n    ${B}\n  ]\n}`],
  'no list': ['{\n   "name": "x" // kept\n}\n', `{\n   "name": "x", // kept\n   "sessions": [\n      ${A},\n      ${B}\n   ]\n}\n`],
  'nothing at all': ['{}', `{\n  "sessions": [\n    ${A},\n    ${B}\n  ]\n}`],
  'a file on one line': ['{ "sessions": ["a"], "name": "x" }\n', `{ "sessions": ["a", ${A}, ${B}], "name": "x" }\n`],
  'a file on one line without a list': ['{"name":"x"}', `{"name":"x", "sessions": [${A}, ${B}]}`],
};

suite('service: pins in the vehicle file', () => {
  for (const [name, [before, after]] of Object.entries(CASES)) {
    test(name, () => {
      const pinned = withPins(before, PINS);
      assert.equal(pinned, after);
      const errors: ParseError[] = [];
      const read = parse(pinned, errors, { allowTrailingComma: true }) as { sessions: unknown[] };
      assert.deepEqual(errors, []);
      assert.deepEqual(read.sessions.slice(-2), PINS);
    });
  }

  test('what is no object, or has no list there, takes none', () => {
    for (const text of ['[]', '', '{ "sessions": "a" }', '{ "sessions": {} }']) assert.equal(withPins(text, PINS), undefined);
  });
});
