// The sample car on disk is what its generator writes, and holds the trouble it promises.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { firstSampleFiles, SAMPLE_NAME, sampleFiles, sampleSessions } from './makeSample.js';

suite('sample car', function () {
  this.timeout(180000);
  const sessions = sampleSessions();

  test('is up to date: npm run sample', () => {
    for (const [path, content] of sampleFiles(sessions)) {
      assert.ok(
        readFileSync(new URL(`../../samples/${SAMPLE_NAME}/${path}`, import.meta.url)).equals(content),
        `${path} is stale: npm run sample`,
      );
    }
  });

  test('the small one in the package is up to date, and is copied whole: npm run sample', () => {
    const files = firstSampleFiles(),
      folder = new URL(`../../client/sample/${SAMPLE_NAME}/`, import.meta.url);
    for (const [path, content] of files) assert.ok(readFileSync(new URL(path, folder)).equals(content), `${path} is stale: npm run sample`);
    const copied = /const FILES = \[(.*)\]/.exec(readFileSync(new URL('../../client/src/copySample.ts', import.meta.url), 'utf8'))![1]!;
    assert.deepEqual(
      copied
        .split(', ')
        .map((name) => name.slice(1, -1))
        .sort(),
      [...files.keys()].sort(),
    );
    assert.ok([...files.values()].reduce((sum, { length }) => sum + length, 0) < 50_000, 'it is small');
  });

  test('holds its numbers to what a tuner would believe', () => {
    // common practice, no source
    for (const { drive } of sessions) {
      const most = (name: string): number => Math.max(...drive.channels.get(name)!.values);
      assert.ok(
        most('injector-duty') < 85 && most('intake-air-temperature') < 50 && most('coolant-temperature') < 105 && most('knock-retard') < 2,
      );
      assert.ok(drive.truth.fuelTable.values.every((ve) => ve > 45 && ve < 105));
    }
  });

  test('goes lean round 5200 rpm and 170 kPa in every long pull', () => {
    let pulls = 0;
    for (const {
      drive: { truth, timeS },
    } of sessions)
      for (const pull of truth.events.filter((event) => event.kind === 'pull' && event.toS - event.fromS > 4)) {
        const ratios = Array.from(timeS.keys())
          .filter(
            (i) =>
              timeS[i] > pull.fromS + 0.7 && timeS[i] < pull.toS && Math.abs(truth.speedRpm[i] - 5300) < 150 && truth.pressureKPa[i] > 160,
          )
          .map((i) => truth.mixtureLambda[i] / 0.82);
        if (ratios.length < 3) continue;
        pulls++;
        const ratio = ratios.reduce((a, b) => a + b) / ratios.length;
        assert.ok(ratio > 1.05 && ratio < 1.1, String(ratio));
      }
    assert.ok(pulls >= 10, String(pulls));
  });

  test('has one dropout of 0.8 s and a pressure that passes 160 kPa in the dyno cell', () => {
    const [street, , dyno] = sessions;
    const zeros = street.drive.channels.get('lambda')!.values.filter((x) => x === 0).length;
    assert.ok(Math.abs(zeros / street.drive.rateHz - 0.8) < 0.06);
    assert.ok(Math.max(...dyno.drive.channels.get('manifold-pressure')!.values) > 180);
    const text = readFileSync(new URL(`../../samples/${SAMPLE_NAME}/${dyno.path}`, import.meta.url), 'utf8');
    assert.ok(text.split('\n').filter((line) => line.split(', ')[2] === '160.0').length > 100);
  });
});
