// Globs that a stranger's vehicle file may hold: what a user writes is taken, what would hold the search for long is not.

import assert from 'node:assert/strict';
import { globInsideFolder } from '../../server/src/formats/vehicle/folderPath.js';

suite('paths and globs of a vehicle file', () => {
  test('what a user writes', () => {
    for (const glob of [
      'sessions/*.csv',
      '**/*.{session.csv,candump.log}',
      '**/*{monday,tuesday}*.{csv,log}',
      '2026-1[0-2]/**/*run?.csv',
      'run (1).csv',
      'e10+e85.csv',
      `{${Array.from({ length: 200 }, (_, i) => `run${i}`).join()}}.csv`,
    ]) {
      assert.equal(globInsideFolder(glob), glob);
    }
  });

  test('what has more ways to be held against a path than can be tried', () => {
    for (const glob of [
      '**/*a*a*a*b',
      '(a|aa)+b',
      '(a+)+b',
      '[a]+b',
      '{a,aa}+b',
      '+(a|aa)b',
      '*(a|aa)b',
      `${'{a,a}'.repeat(28)}b`,
      `${'(a|a)'.repeat(28)}b`,
      `${'(a)?'.repeat(28)}b`,
      `${'?(a)'.repeat(28)}b`,
      `${'{a,'.repeat(28)}b`,
      '(a+a+a+a+a+)b',
    ]) {
      assert.equal(globInsideFolder(glob), undefined, glob);
    }
  });
});
