// What flows in at all times, or is off with each injection, seen by a fuel table. By hand: an orifice across which the pressure falls to 0.53 and less passes the same
// mass whatever is behind it (choked flow, any handbook of gas dynamics), and an engine of speed-density draws air with speed × pressure:
// the share of the one in the other goes with one over that. 0.02 g/s of vapour are 10 % of the fuel of 3 g/s of air at λ 1 (14.7).

import assert from 'node:assert/strict';
import { commonCause, commonCauseWords } from '../../server/src/fueling/doubts/commonCause.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';

const RPM = [820, 1400, 2000, 2600, 3200],
  KPA = [33, 42, 54, 66, 78];
/** Where the car stands for a while, again and again; one passage goes a little way round it. */
const POINTS = [
  [830, 34],
  [1400, 42],
  [2000, 34],
  [2600, 48],
  [3100, 66],
  [2000, 54],
  [1500, 36],
  [2600, 74],
  [2100, 42],
  [2600, 36],
] as const;

interface Car {
  /** λ over its target at a point. */
  readonly lambda: (rpm: number, kPa: number) => number;
  /** Whether a closed loop makes up for it. */
  readonly closed?: boolean;
  readonly limits?: string;
}

function carOf({ lambda, closed = false, limits = '' }: Car): string {
  const rows = [
    `Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%),Coolant Temperature (°C),Target Lambda (λ),Lambda (λ)${closed ? ',Short Term Fuel Trim (%),Long Term Fuel Trim (%)' : ''}`,
  ];
  let [rpm, kPa] = POINTS[0] as readonly [number, number];
  for (let row = 0; row < 10 * 60 * 20; row++) {
    const timeS = row / 10,
      [toRpm, toKPa] = POINTS[Math.floor(timeS / 12) % POINTS.length];
    rpm += (toRpm + 60 * Math.sin(timeS / 1.9) - rpm) * 0.08;
    kPa += (toKPa + 2 * Math.sin(timeS / 1.3) - kPa) * 0.08;
    const reads = lambda(rpm, kPa),
      swing = 1.1 * Math.sin(timeS * 4.4),
      noise = 1 + 0.004 * Math.sin(row * 2.3) + 0.002 * Math.sin(row * 0.71);
    rows.push(
      [
        timeS.toFixed(2),
        (rpm + 5 * Math.sin(row * 1.7)).toFixed(0),
        (kPa + 0.2 * Math.sin(row * 3.1)).toFixed(1),
        (kPa / 4 - 5 + 0.2 * Math.sin(row)).toFixed(1),
        '88',
        '1.000',
        ((closed ? 1 - swing / 200 : reads) * noise).toFixed(3),
        ...(closed ? [swing.toFixed(1), (100 * (reads - 1)).toFixed(1)] : []),
      ].join(','),
    );
  }
  return `=== vehicle.json\n{ "tables": { "fuel": "ve.table.csv" }${limits} }\n=== ve.table.csv\n# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,${RPM.join()}\n${KPA.map((each) => `${each},${RPM.map((x) => (60 + x / 400 + each / 10).toFixed(1)).join()}`).join('\n')}\n=== a.session.csv\n${rows.join('\n')}\n`;
}

const HEAD = [{ start: { line: 0, character: 0 }, end: { line: 0, character: 0 } }];

async function judged(car: Car) {
  const workspace = memoryWorkspace(carOf(car)),
    service = createLanguageService(workspace),
    ve = workspace.uri('ve.table.csv');
  const evidence = (await service.weigher.evidence(ve))!.value,
    table = (await service.documents.table(ve))!.value,
    cause = commonCause(table, evidence);
  const { findings } = (await service.check(ve))!,
    offered = (await service.codeActions(ve, HEAD, 10)).find(({ kind }) => kind === 'all')?.changes ?? [],
    lenses = (await service.codeLenses(ve, { commands: true })).map(({ command }) => command!.title);
  return {
    cause,
    words: cause && commonCauseWords(cause),
    told: findings.filter(({ message }) => cause && message.includes(commonCauseWords(cause).slice(0, 60))).length,
    held: new Set(evidence.held!.values()),
    offered: offered.length,
    isOnLens: lenses.some((title) => title.startsWith('Correct ')),
  };
}

/** `share` of the fuel or the air of idle (820 rpm, 33 kPa). */
const leak =
  (share: number) =>
  (rpm: number, kPa: number): number =>
    (share * 820 * 33) / rpm / kPa;

suite('what flows in at all times', () => {
  test('vapour of a purge valve that stays open is told and nothing is corrected, in open loop and in closed', async () => {
    for (const closed of [false, true]) {
      const { words, told, held, offered, isOnLens } = await judged({ lambda: (rpm, kPa) => 1 / (1 + leak(0.09)(rpm, kPa)), closed });
      assert.match(
        words ?? '',
        /^−(8|9|10)\.\d % where the least air flows, .*purge valve, an injector or the regulator.*clamp the purge hose/,
      );
      assert.deepEqual([told, [...held], offered, isOnLens], [1, ['shared-cause'], 0, false]);
    }
  });
  test('air that leaks into the exhaust ahead of the sensor is, too, where the loop makes up for it', async () => {
    const { words, told, offered, isOnLens } = await judged({ lambda: (rpm, kPa) => 1 + leak(0.1)(rpm, kPa), closed: true });
    assert.match(
      words ?? '',
      /^\+(9|1\d)\.\d % where the least air flows, .*leak into the exhaust ahead of the lambda sensor.*exhaust joints/,
    );
    assert.deepEqual([told, offered, isOnLens], [1, 0, false]);
  });
  test('is corrected where the owner says that it is no such thing', async () => {
    const { offered, isOnLens } = await judged({
      lambda: (rpm, kPa) => 1 / (1 + leak(0.09)(rpm, kPa)),
      limits: ', "limits": { "sharedCausePercent": 50 }',
    });
    assert.ok(offered > 0 && isOnLens);
  });
  // An injector flows from its dead time to the pulse's end, so that an error of it takes the same fuel off each injection: 9 % of the pulse
  // at 33 kPa are 3.8 % of that at 78 kPa. So does a manifold pressure that is off by the same everywhere (ideal gas).
  test("each injection off by the same, as by the injectors' dead time or a manifold pressure that is off, is told at any speed", async () => {
    for (const [share, words] of [
      [-0.09, /^−(8|9|10)\.\d % where the least is injected, .*dead time, or manifold pressure that reads high.*battery voltage/],
      [0.09, /^\+(8|9|10)\.\d % where the least is injected, .*reads low by the same/],
    ] as const) {
      const { words: told, held, offered } = await judged({ lambda: (_rpm, kPa) => 1 + (share * 33) / kPa });
      assert.match(told ?? '', words);
      assert.deepEqual([[...held], offered], [['shared-cause'], 0]);
    }
  });
  test('but not where a rail that does not follow the manifold, over too few rows to be told, falls alike', async () => {
    const { cause } = await judged({ lambda: (_rpm, kPa) => Math.sqrt(340 / (340 + 100 - kPa)) });
    assert.equal(cause, undefined);
  });
  test('is not a patch that is wrong alone, or low speeds that are wrong at every pressure', async () => {
    for (const lambda of [
      (rpm: number, kPa: number) => (rpm > 2200 && kPa < 45 ? 0.93 : 1),
      (_: number, kPa: number) => (kPa < 48 ? 0.94 : 1),
      (rpm: number) => 1 + (0.09 * 820) / rpm,
      (rpm: number, kPa: number) => 1 + 0.03 * Math.sin(rpm / 500 + kPa / 20),
    ]) {
      const { cause, offered } = await judged({ lambda });
      assert.notEqual(cause?.kind, 'steady-flow');
      assert.ok(offered > 0 || cause);
    }
  });
}).timeout(60_000);
