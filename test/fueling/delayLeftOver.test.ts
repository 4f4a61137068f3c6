// What is left of readings where some of them are in doubt.

import assert from 'node:assert/strict';
import type { Comparison } from '../../server/src/fueling/delay/delayEvents.js';
import { leftOver } from '../../server/src/fueling/delay/delayLeftOver.js';

suite('what is left of readings', () => {
  test('one that is far off and in doubt moves no other reading, and is far off itself', () => {
    const shown = new Float64Array(20).fill(1),
      measured = shown.map((each, at) => (at === 7 ? 1.5 : each)),
      doubt = shown.map((_, at) => (at === 7 ? 0.3 : 0));
    const comparison: Pick<Comparison, 'measured' | 'starts' | 'edge' | 'leanest'> = {
      measured,
      starts: Int32Array.of(0, 20),
      edge: Uint8Array.of(0),
      leanest: 0.65,
    };
    leftOver(comparison as Comparison, shown, [], doubt);
    for (const [at, rest] of shown.entries()) assert.ok(Math.abs(rest - (at === 7 ? 0.5 : 0)) < 0.001, `${at}: ${rest}`);
  });
});
