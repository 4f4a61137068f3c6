// A drive on which something fades. By the orifice law a rail that falls from 300 to 240 kPa gives √0.8 = 0.89 of the fuel: what a cell
// wants goes from nothing to 12 % more on the way, and no table is right for both.

import assert from 'node:assert/strict';
import { driftsOf } from '../../server/src/fueling/doubts/drift.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { gather } from '../../server/src/report/gather.js';
import { verdictOf } from '../../server/src/report/verdict.js';
import { oneTableCar } from '../support/oneTableCar.js';

const HEAD = [{ start: { line: 0, character: 0 }, end: { line: 0, character: 0 } }];
const MINUTES = 8;

/**
 * `over` is lambda over its target, by the share of the drive that is behind; `unrest` what each turn of the road adds (weather, film, a
 * hot or a cool part).
 */
function drive(over: (share: number) => number, unrest = 0): string {
  const rows = ['Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%),Coolant Temperature (°C),Target Lambda (λ),Lambda (λ)'];
  for (let row = 0; row < 20 * 60 * MINUTES; row++) {
    const timeS = row / 20;
    rows.push(
      [
        timeS.toFixed(2),
        (2600 + 600 * Math.sin(timeS / 7)).toFixed(0),
        (50 + 9 * Math.sin(timeS / 3)).toFixed(1),
        (15 + 3 * Math.sin(timeS / 3)).toFixed(1),
        '88',
        '1.000',
        ((1 + over(timeS / 60 / MINUTES) + unrest * Math.sin(timeS / 11)) * (1 + 0.004 * Math.sin(row * 2.3))).toFixed(3),
      ].join(','),
    );
  }
  return `${rows.join('\n')}\n`;
}

async function judged(log: string) {
  const workspace = oneTableCar(
      `, 2000, 2600, 3200, 3800
40, 80.0, 82.0, 84.0, 85.0
50, 82.0, 84.0, 86.0, 87.0
60, 84.0, 86.0, 88.0, 89.0`,
      log,
    ),
    service = createLanguageService(workspace),
    ve = workspace.uri('ve.table.csv');
  const evidence = (await service.weigher.evidence(ve))!.value,
    offered = (await service.codeActions(ve, HEAD, 10)).find(({ kind }) => kind === 'all')?.changes ?? [];
  const told = (await service.check(ve))!.findings
    .filter(({ code }) => code === 'cell-lean' || code === 'cell-rich')
    .map(({ message }) => message);
  const verdict = verdictOf(await gather(workspace, service, (await service.vehicleFolder(ve))!, { date: '2026-09-16', version: '9.9.9' }));
  return { verdict, offered: offered.length, told, drift: evidence.drift, held: new Set([...evidence.held!.values()]) };
}

suite('a session that contradicts itself', () => {
  test('is no ground for a correction, whichever way it drifts', async () => {
    for (const way of [0.12, -0.12]) {
      const { offered, told, drift, held } = await judged(drive((share) => way * share));
      assert.equal(offered, 0);
      assert.deepEqual([...held], ['session-drifts']);
      // The means of the two halves of a line are at a quarter and at three quarters of it.
      for (const { early, late } of drift!.values())
        assert.ok(Math.abs(early - 1 - way / 4) < 0.01 && Math.abs(late - 1 - (3 * way) / 4) < 0.01, `${early} ${late}`);
      assert.ok(told.length > 0);
      for (const message of told) assert.match(message, /find out what changed on the way/);
    }
  });
  test('is told by the report, too where the middle of both halves is right', async () => {
    const {
      verdict: { sentences },
      told,
      drift,
    } = await judged(drive((share) => 0.16 * (share - 0.5)));
    assert.ok(drift!.size > 0);
    assert.deepEqual(told, []);
    assert.match(sentences[2], /the reason is found why one part of a drive wants other fuel than another/);
  });
  test('is none where the table is wrong from first to last, and where parts of a road differ as they do', async () => {
    for (const log of [drive(() => 0.06), drive(() => 0.06, 0.01), drive((share) => 0.06 + 0.02 * share)]) {
      const {
        offered,
        drift,
        held,
        verdict: { sentences },
      } = await judged(log);
      assert.equal(drift, undefined);
      assert.ok(offered > 0);
      assert.equal(held.has('session-drifts'), false);
      // Its vehicle.json says that what all cells share is none of another thing.
      assert.doesNotMatch(sentences[2], /the one cause|stays as it is/);
    }
  });
  test('is one, too, whose passages are of two kinds in turns, as with nitrous on and off: no half tells it', async () => {
    // Nitrous oxide by weight is 16/44 oxygen, air 0.23: what is let in on top of the air at an eighth of its mass makes λ 0.125 × 0.364 /
    // 0.23 = 20 % leaner.
    const {
      offered,
      held,
      verdict: { sentences },
    } = await judged(drive((share) => (Math.floor(share * 12) % 2 === 0 ? 0 : 0.2)));
    assert.deepEqual([offered, [...held]], [0, ['session-drifts']]);
    assert.match(sentences[2], /why one part of a drive wants other fuel than another/);
  });
  test('is none whose passages only scatter', async () => {
    const { drift } = await judged(drive((share) => 0.06 + 0.035 * Math.sin(share * 400)));
    assert.equal(drift, undefined);
  });
  test('is one where a single passage is far from all others, and not where it is a little off', async () => {
    const once = (over: number) => drive((share) => (share > 0.5 && share < 0.52 ? over : 0.06));
    assert.ok((await judged(once(0.3))).held.has('session-drifts'));
    const { offered, drift } = await judged(once(0.1));
    assert.equal(drift, undefined);
    assert.ok(offered > 0);
  });
  test('tells of the two cells between which it was driven, in a table of one column too', () => {
    // Linear interpolation: between two breakpoints a reading is of these two and of no other.
    const size = 16,
      blocks = {
        count: size,
        cell: new Int32Array(size),
        weights: Float64Array.from({ length: 4 * size }, (_none, i) => (i % 4 === 0 || i % 4 === 2 ? 0.5 : 0)),
        visit: Int32Array.from({ length: size }, (_none, i) => i >> 2),
        variance: new Float64Array(size).fill(1e-5),
      };
    const session = { blocks, timeS: Float64Array.from({ length: size }, (_none, i) => i) } as unknown as Parameters<
      typeof driftsOf
    >[0][number];
    const found = driftsOf(
      [session],
      Float64Array.from({ length: size }, (_none, i) => 0.2 * ((i >> 2) & 1)),
      new Float64Array(4),
      { columns: Float64Array.of(0), rows: Float64Array.of(40, 50, 60, 70) },
    );
    assert.deepEqual([...new Set(found.filter(({ isByTurns }) => isByTurns).map(({ cell }) => cell))], [0, 1]);
  });
});
