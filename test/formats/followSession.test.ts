// A log that grows is read on from where it was, and is then what it is when read whole, wherever it stood; one that was written anew is
// read anew.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { sessionFindings } from '../../server/src/findings/check.js';
import { followSession, type SessionFollower } from '../../server/src/formats/session/followSession.js';
import { readSession, readSessionBy } from '../../server/src/formats/session/readSession.js';
import type { Session } from '../../server/src/formats/session/session.js';
import { bytesSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { sampleDrive } from '../support/sampleDrive.js';
import { drawsFor } from '../trust/seeded.js';
import { RUNS, digest, sessionText } from './sessionTexts.js';

const findingsOf = (session: Session): unknown => sessionFindings(analyse(session, EMPTY_VEHICLE));
const encode = (text: string): Uint8Array => new TextEncoder().encode(text);
const read = (follower: SessionFollower, bytes: Uint8Array): Session => follower.read(bytesSource(bytes), {});
/** A drive that is long enough: what fits the head is read whole. */
const DRIVE = encode(
  sampleDrive({ leanest: 1.2 }).replace(
    /((?:.*\n)*?.*Lambda.*\n)((?:.*\n)*)/,
    (_, head: string, rows: string) => head + rows.repeat(Math.ceil(600_000 / rows.length)),
  ),
);

suite('a session that grows', () => {
  test('is in random pieces what it is whole: every value, place, problem and note, quotes included', () => {
    let readOn = 0;
    fc.assert(
      fc.property(
        fc.boolean().chain(sessionText),
        fc.array(fc.integer({ min: 0, max: 100 }), { minLength: 1, maxLength: 6 }),
        fc.integer({ min: 8, max: 80 }),
        fc.integer({ min: 8, max: 30 }),
        fc.boolean(),
        fc.boolean(),
        ({ text }, cuts, chunkBytes, headBytes, kernel, packs) => {
          const way = {
              chunkBytes,
              headBytes,
              everythingQuoted: false,
              kernelFromBytes: kernel ? 0 : Infinity,
              packFromBytes: packs ? 0 : Infinity,
            },
            bytes = encode(text.repeat(4)),
            follower = followSession(way);
          for (const length of [...cuts.map((cut) => Math.floor((cut * bytes.length) / 100)).sort((a, b) => a - b), bytes.length]) {
            assert.deepEqual(
              digest(read(follower, bytes.subarray(0, length))),
              digest(readSessionBy(bytesSource(bytes.subarray(0, length)), {}, way)),
            );
            if (follower.skippedBytes > 0) readOn++;
          }
        },
      ),
      { numRuns: Math.ceil(RUNS / 8) },
    );
    assert.ok(readOn > RUNS / 8, `read on ${readOn} times`);
  });

  test('has the findings of the whole at each step of a drive, and only what was added is read', () => {
    const draws = drawsFor('steps of a drive'),
      follower = followSession();
    for (let length = 300_000, before = 0; ; length = Math.min(DRIVE.length, length + draws.whole(1, 90_000))) {
      const bytes = DRIVE.subarray(0, length),
        session = read(follower, bytes);
      assert.ok(
        before === 0 || (follower.skippedBytes > before - 1000 && follower.skippedBytes <= before),
        `${follower.skippedBytes} of ${before}, seed ${draws.seed}`,
      );
      const whole = readSession(bytesSource(bytes));
      assert.deepEqual(findingsOf(session), findingsOf(whole), `at ${length}, seed ${draws.seed}`);
      assert.deepEqual(
        session.channels.map(({ values }) => values),
        whole.channels.map(({ values }) => values),
      );
      if (length === DRIVE.length) break;
      before = length;
    }
  });

  test('so long that its columns are kept packed, over many of their pieces, is what it is whole', () => {
    const rows = Array.from(
        { length: 60_000 },
        (_, i) => `${(i / 50).toFixed(2)},${2000 + (i % 977)},${(0.8 + (i % 91) / 300).toFixed(3)}`,
      ),
      text = encode(`Time (s),RPM,Lambda\n${rows.join('\n')}\n`);
    const way = { chunkBytes: 1 << 16, everythingQuoted: false, kernelFromBytes: 1 << 16, packFromBytes: 0 },
      follower = followSession(way),
      kept: [Session, Session][] = [];
    for (const length of [text.length / 3, text.length / 2, text.length].map(Math.floor)) {
      kept.push([read(follower, text.subarray(0, length)), readSession(bytesSource(text.subarray(0, length)))]);
      assert.ok(kept.length === 1 || follower.skippedBytes > text.length / 4);
    }
    // The earlier ones are still what they were.
    for (const [followed, whole] of kept) assert.deepEqual(digest(followed), digest(whole));
  });

  test('counts what is left out behind a header in another order once, however often it grows', () => {
    const drive = (from: number): string => Array.from({ length: 100 }, (_, at) => `${(from + at) / 10}, ${800 + at}, 1.0\n`).join(''),
      follower = followSession({ chunkBytes: 64, headBytes: 64, everythingQuoted: false, kernelFromBytes: Infinity });
    const bytes = encode(`Time (s),Engine speed (rpm),Lambda\n${drive(0)}Time (s),Lambda,Engine speed (rpm)\n${drive(100)}`);
    for (const share of [0.6, 0.7, 0.8, 1]) {
      const so = bytes.subarray(0, Math.floor(share * bytes.length)),
        grown = read(follower, so).problems;
      assert.deepEqual(grown, readSession(bytesSource(so)).problems);
      assert.ok(grown.some(({ kind }) => kind === 'turned'));
    }
    assert.ok(follower.skippedBytes > bytes.length / 2);
  });

  test('is read whole where it was cut, written anew, or belongs to another vehicle', () => {
    const half = DRIVE.subarray(0, 400_000),
      changed = (at: number): Uint8Array => DRIVE.map((byte, index) => (index === at && byte === 49 ? 50 : byte));
    const ones = [300, 70_000, 130_000, 200_000, 399_000].map((near) => DRIVE.indexOf(49, near));
    for (const later of [DRIVE.subarray(0, 390_000), ...ones.map(changed), encode(`# a note\n${new TextDecoder().decode(DRIVE)}`)]) {
      const follower = followSession();
      read(follower, half);
      assert.deepEqual(findingsOf(read(follower, later)), findingsOf(readSession(bytesSource(later))));
      assert.equal(follower.skippedBytes, 0);
    }
    const follower = followSession();
    read(follower, half);
    follower.read(bytesSource(DRIVE), { vehicle: EMPTY_VEHICLE });
    assert.equal(follower.skippedBytes, 0);
    follower.read(bytesSource(DRIVE), { vehicle: EMPTY_VEHICLE });
    assert.ok(follower.skippedBytes > DRIVE.length - 1000);
  });
});
