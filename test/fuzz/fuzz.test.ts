// Inputs that nobody would write, over every reader: no crash, no hang, memory in bounds, places and words that hold. What ever failed is
// fed again first.

import assert from 'node:assert/strict';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { drawsFor } from '../trust/seeded.js';
import { faultOf, targetOf } from './feed.js';
import { fuzz, roundsOf } from './fuzz.js';
import { SHAPES } from './shapes.js';
import { TARGETS } from './targets.js';

const CORPUS = fileURLToPath(new URL('./corpus/', import.meta.url));
/** How many inputs; the nightly run asks for a million by test/fuzz/run.ts. */
const INPUTS = Number(process.env.LEANSPOT_FUZZ_INPUTS ?? 5000);
/** Characters of each shape; the nightly run asks for megabytes, where what grows faster than the file shows. */
const SHAPE_LENGTH = Number(process.env.LEANSPOT_SHAPE_LENGTH ?? 200_000);
/** Some twenty long inputs of a megabyte are among them. */
const LONG_EVERY = 180;

suite('fuzz', () => {
  test('everything that ever failed holds', () => {
    let fed = 0;
    for (const name of readdirSync(CORPUS)) {
      for (const file of readdirSync(join(CORPUS, name))) {
        assert.equal(faultOf(targetOf(name), readFileSync(join(CORPUS, name, file))), undefined, `corpus/${name}/${file}`);
        fed++;
      }
    }
    assert.ok(fed > 0);
  });

  test(`${SHAPES.length} shapes of ${SHAPE_LENGTH} characters: no work grows faster than the file`, () => {
    const encoder = new TextEncoder();
    const faults = SHAPES.flatMap(({ target, name, text }) => {
      const what = faultOf(targetOf(target), encoder.encode(text(SHAPE_LENGTH)));
      return what === undefined ? [] : [`${target}, ${name}: ${what}`];
    });
    assert.deepEqual(faults, []);
    // By the clock on the wall the night's lengths take what they take: it is the processor's time that is held.
  }).timeout(process.env.LEANSPOT_FUZZ_ALONE ? 0 : 240_000);

  test(`${INPUTS} inputs over all readers`, async () => {
    const { seed } = drawsFor('fuzz');
    const faults = await fuzz(
      roundsOf(
        TARGETS.map(({ name }) => name),
        seed,
        INPUTS,
        LONG_EVERY,
      ),
    );
    assert.deepEqual(
      faults.map(
        ({ target, index, what, bytes }) =>
          `${target} ${index}, seed ${seed}: ${what.slice(0, 300)}\n${Buffer.from(bytes.subarray(0, 600)).toString('base64')}`,
      ),
      [],
    );
  }).timeout(240_000);
});
