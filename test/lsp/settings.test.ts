// Settings as a client sends them: what cannot be is passed over, so that no slip hides findings or lets a step be too long.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { DEFAULTS, withDefaults } from '../../server/src/lsp/settings.js';

suite('settings', () => {
  test('nothing sent is the defaults', () => {
    for (const sent of [null, undefined, {}, 'x', { check: null }, { check: 3 }]) assert.deepEqual(withDefaults(sent), DEFAULTS);
  });
  test('a severity that is none is the default, so that nothing is hidden', () => {
    for (const severity of ['Info', '', 3, null]) assert.equal(withDefaults({ check: { severity } }).check.severity, 'hint');
    assert.equal(withDefaults({ check: { severity: 'error' } }).check.severity, 'error');
  });
  test("a step is held to the manifest's bounds", () => {
    const manifest = JSON.parse(readFileSync(join(import.meta.dirname, '../../package.json'), 'utf8')) as {
      contributes: { configuration: { properties: Record<string, { minimum: number; maximum: number }> } };
    };
    const { minimum, maximum } = manifest.contributes.configuration.properties['leanspot.correct.maxChangePercent'];
    const held = (maxChangePercent: unknown): number => withDefaults({ correct: { maxChangePercent } }).correct.maxChangePercent;
    assert.deepEqual([held(0), held(-5), held(1e9), held(Infinity)], [minimum, minimum, maximum, maximum]);
    assert.deepEqual([held(5), held('5'), held(NaN)], [5, 10, 10]);
  });
});
