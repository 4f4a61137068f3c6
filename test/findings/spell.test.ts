// The words that spells share: numbers in one message agree with each other.

import assert from 'node:assert/strict';
import { apartText } from '../../server/src/findings/spell.js';

suite('findings: words of a spell', () => {
  test('a difference is that of the numbers shown beside it', () => {
    // By hand: 0.9751 and 0.8349 are 0.1402 apart, but shown as 0.98 and 0.83 a reader makes it 0.15.
    assert.equal(apartText(0.9751, 0.8349, 2), '0.15');
    assert.equal(apartText(0.83, 0.83, 2), '0.00');
  });
});
