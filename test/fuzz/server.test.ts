// The language server under messages that no editor sends, and through a long day of edits: it goes on answering, and says what a fresh one
// says.

import assert from 'node:assert/strict';
import { drawsFor } from '../trust/seeded.js';
import { messages } from './messages.js';
import { soak } from './soak.js';

/** The nightly run asks for more. */
const MESSAGES = Number(process.env.LEANSPOT_FUZZ_MESSAGES ?? 1000);
const STEPS = Number(process.env.LEANSPOT_SOAK_STEPS ?? 300);

suite('fuzz: the language server', () => {
  let unhandled: unknown[] = [];
  const hear = (reason: unknown): void => {
    unhandled.push(reason);
  };
  setup(() => {
    unhandled = [];
    process.on('unhandledRejection', hear);
  });
  teardown(() => {
    process.off('unhandledRejection', hear);
  });

  test(`${MESSAGES} messages that make no sense are answered or passed over`, async () => {
    await messages(MESSAGES, drawsFor('messages'));
    assert.deepEqual(unhandled, []);
  }).timeout(3_600_000);

  test(`${STEPS} edits, saves, renames, deletes and cancels: at each hundredth the answers are those of a fresh server`, async () => {
    let compared = 0;
    await soak(STEPS, drawsFor('soak'), (comparisons) => {
      compared = comparisons;
    });
    assert.equal(compared, Math.ceil(STEPS / 100));
    assert.deepEqual(unhandled, []);
  }).timeout(3_600_000);
});
