// How findings stand in a list: the count of what is left over is behind the last one shown.

import assert from 'node:assert/strict';
import { readingFindings, sessionFindings } from '../../server/src/findings/check.js';
import { shareText } from '../../server/src/findings/cellEvidence.js';
import { RULES } from '../../server/src/findings/registry.js';
import { pullColumns, sampleLog } from '../../server/src/findings/sampleLog.js';
import type { CellEvidence } from '../../server/src/fueling/evidence.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';

suite('findings: order', () => {
  test('"more like it" stands behind the last of its kind, whichever is the worst', () => {
    // Nine spells of knock retard, 3 s apart, the worst at the start and at the end.
    const depths = [9, 3, 3.5, 4, 7, 3.2, 8, 4.5, 9.5];
    const knock = (t: number): number => (t % 3 > 1 && t % 3 < 1.6 ? (depths[Math.floor(t / 3)] ?? 0) : 0);
    const columns = pullColumns();
    const log = sampleLog(27, 0.1, {
      'engine speed (rpm)': () => 3000,
      'throttle (%)': () => 100,
      'manifold pressure (kPa)': columns['manifold pressure (kPa)'],
      'knock retard (deg)': knock,
    });
    const found = sessionFindings(analyse(readSession(textSource(log)), EMPTY_VEHICLE)).filter(({ code }) => code === 'knock');
    assert.equal(found.length, 5);
    assert.deepEqual(
      found.map(({ message }) => /And 4 more like it/.test(message)),
      [false, false, false, false, true],
    );
  });

  test('what the reader noticed stands alone as it stands among all that is found', () => {
    const spoke = new Set<string>();
    for (const { sample } of RULES) {
      for (const text of Object.values(sample()).filter((each) => each.startsWith('=== a.session.csv\n'))) {
        const signals = analyse(readSession(textSource(text.slice(text.indexOf('\n') + 1).split('\n=== ')[0])), EMPTY_VEHICLE),
          first = readingFindings(signals);
        for (const { code } of first) spoke.add(code);
        assert.deepEqual(
          sessionFindings(signals).filter(({ code }) => spoke.has(code)),
          first,
          text,
        );
      }
    }
    assert.equal(spoke.size, 8, [...spoke].join(' '));
  });

  test('a cell is never told by more independent samples than it has', () => {
    const cell = { factor: 1.08, factorLow: 1.06, factorHigh: 1.1, proof: 'thin' } as CellEvidence;
    assert.match(shareText({ ...cell, samples: 0, effectiveSamples: 16 }), /thin: told by its neighbours\)/);
    assert.match(shareText({ ...cell, samples: 4, effectiveSamples: 16 }), /4 samples worth 4 independent\)/);
    assert.match(shareText({ ...cell, samples: 134, effectiveSamples: 21.5 }), /134 samples worth 22 independent\)/);
  });
});
