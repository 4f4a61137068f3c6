// The trace's numbers through the service: windows against a plain search of the session, samples both ways, spans, runs, visits, the
// copied text.

import assert from 'node:assert/strict';
import { channelOf } from '../../server/src/formats/session/session.js';
import { unpackTables, type NumberTable, type PackedTables } from '../../server/src/protocol/numberTables.js';
import { RUN_TIME } from '../../server/src/protocol/trace.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { createTrace, type TraceParts } from '../../server/src/service/views/trace.js';
import { bestLagS } from '../../server/src/service/views/traceRuns.js';
import { MOST_BYTES } from '../../server/src/service/views/traceWindow.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';
import { SAMPLE_CAR, sampleDrive } from '../support/sampleDrive.js';

const car = (more = '') => {
  const workspace = memoryWorkspace(SAMPLE_CAR + more);
  const service = createLanguageService(workspace);
  return {
    workspace,
    service,
    trace: service.trace,
    run: workspace.uri('sessions/run.session.csv'),
    ve: workspace.uri('tables/ve.table.csv'),
  };
};
const tablesOf = (packed: PackedTables<Uint8Array> | undefined): NumberTable[] => unpackTables(packed!)!;
const rises = (x: ArrayLike<number>): boolean => Array.from(x).every((value, i, all) => i === 0 || value > all[i - 1]!);

/** 200 rows a second for a minute, one spike, a hole of ten seconds, a channel five times slower. */
const FAST = `=== sessions/fast.session.csv\nTime (s),Engine Speed (rpm),Lambda,Coolant Temperature (°C)\n${Array.from(
  { length: 12_000 },
  (_, i) => {
    const timeS = i / 200 + (i >= 6000 ? 10 : 0);
    return `${timeS.toFixed(3)},${2000 + Math.round(50 * Math.sin(i / 300))},${i === 4321 ? '1.400' : (0.9 + 0.001 * (i % 7)).toFixed(3)},${i % 5 === 0 ? '90' : ''}`;
  },
).join('\n')}\n`;

suite('service: trace', () => {
  test('a summary that fails twice at once is told once, and nothing fails unheard', async () => {
    const fails = async (): Promise<never> => {
      await new Promise(setImmediate);
      throw new Error('locked');
    };
    const documents = { kindOf: async () => ({ kind: 'session' }), isElsewhere: fails } as unknown as TraceParts['documents'];
    const unheard: unknown[] = [],
      hear = (reason: unknown): void => {
        unheard.push(reason);
      };
    process.prependListener('unhandledRejection', hear);
    try {
      await assert.rejects(
        createTrace({ documents, weigher: {} as TraceParts['weigher'], check: fails, fuelOf: fails }).summary(
          'file:///car/run.session.csv',
        ),
        /locked/,
      );
      await new Promise((resolve) => setTimeout(resolve, 20));
      assert.deepEqual(unheard, []);
    } finally {
      process.removeListener('unhandledRejection', hear);
    }
  });

  test('the summary names what there is to draw', async () => {
    const { trace, run, service, workspace } = car();
    const summary = (await trace.summary(run))!;
    const ids = summary.channels.map(({ id }) => id);
    for (const id of ['engine-speed', 'manifold-pressure', 'lambda']) assert.ok(ids.includes(id), `${id} among ${ids.join(', ')}`);
    assert.equal(new Set(ids).size, ids.length);
    const { value: signals } = (await service.documents.signals(run))!;
    assert.deepEqual(
      summary.runs.filter(({ pull }) => pull > 0).map(({ pull, fromS, direction }) => [pull, fromS, direction]),
      signals.pulls.map(({ from }, i) => [i + 1, signals.timeS[from], 'up']),
    );
    const findings = (await service.check(run))!.findings.filter(({ timeS }) => timeS);
    assert.equal(summary.spells.length, findings.length);
    assert.equal(await trace.summary(workspace.uri('tables/ve.table.csv')), undefined);
    assert.equal(await trace.summary(workspace.uri('gone.session.csv')), undefined);
  });

  test('a wide window keeps a one-sample spike, breaks at the hole, rises strictly and stays small', async () => {
    const { trace, workspace } = car(FAST);
    const uri = workspace.uri('sessions/fast.session.csv');
    const packed = (await trace.window({ uri, channels: ['lambda', 'coolant-temperature', 'nonsense'], fromS: 0, toS: 70, pixels: 700 }))!;
    const [{ x, columns }] = tablesOf(packed);
    assert.equal(packed.whole, false);
    assert.ok(x.length >= 2 * 500 && x.length <= 4 * 700 + 12, `${x.length} points`);
    assert.ok(rises(x));
    assert.equal(
      columns[0]!.reduce((most, value) => (value > most ? value : most), 0),
      Math.fround(1.4),
    );
    const inHole = Array.from(x, (at, i) => ({ at, value: columns[0]![i]! })).filter(({ at }) => at > 30.3 && at < 39.7);
    assert.ok(
      inHole.every(({ value }) => Number.isNaN(value)),
      'no line over the hole',
    );
    const broken = Array.from(columns[0]!).some((value, i) => Number.isNaN(value) && x[i]! > 29 && x[i]! < 41);
    assert.ok(broken, 'a break at the hole');
    // The slow channel is carried over its blanks; a column that does not exist is empty.
    assert.equal(columns[1]!.filter((value, i) => Number.isNaN(value) && (x[i]! < 29 || x[i]! > 41)).length, 0);
    assert.ok(columns[2]!.every(Number.isNaN));
  });

  test('a narrow window is every sample, at its time', async () => {
    const { trace, workspace, service } = car(FAST);
    const uri = workspace.uri('sessions/fast.session.csv');
    const packed = (await trace.window({ uri, channels: ['lambda'], fromS: 21.5, toS: 21.7, pixels: 700 }))!;
    const [{ x, columns }] = tablesOf(packed);
    const { session } = (await service.documents.signals(uri))!.value;
    assert.equal(packed.whole, true);
    const from = session.timeS.indexOf(x[0]!);
    assert.deepEqual([...x], [...session.timeS.subarray(from, from + x.length)]);
    assert.deepEqual([...columns[0]!], Array.from(channelOf(session, 'lambda')!.values.subarray(from, from + x.length), Math.fround));
    assert.ok(x[0]! < 21.5 && x[x.length - 1]! >= 21.7 - 0.006, 'to the edges and beyond');
  });

  test('whatever is asked for, a view stays below its limit', async () => {
    const { trace, workspace } = car(FAST);
    const packed = (await trace.window({
      uri: workspace.uri('sessions/fast.session.csv'),
      channels: Array.from({ length: 40 }, () => 'lambda'),
      fromS: 0,
      toS: 70,
      pixels: 6000,
    }))!;
    assert.ok(packed.data.byteLength <= MOST_BYTES, `${packed.data.byteLength} bytes`);
  });

  test('repeated times still rise', async () => {
    const { trace, workspace } = car('=== sessions/stamps.session.csv\nTime (s),Engine Speed (rpm)\n0,800\n1,810\n1,820\n2,830\n');
    const [{ x }] = tablesOf(
      await trace.window({ uri: workspace.uri('sessions/stamps.session.csv'), channels: ['engine-speed'], fromS: 0, toS: 2, pixels: 100 }),
    );
    assert.ok(rises(x), [...x].join(' '));
  });

  test('time to line and back; the cell is the one that Go to Definition finds', async () => {
    const { trace, run, service } = car();
    const summary = (await trace.summary(run))!;
    const pull = summary.runs.find(({ pull: number }) => number > 0)!;
    const sample = (await trace.sample({ uri: run, timeS: (pull.fromS + pull.toS) / 2 }))!;
    assert.deepEqual(await trace.sample({ uri: run, line: sample.line }), sample);
    assert.equal(sample.values.length, summary.channels.length);
    const [link] = await service.definition(run, { line: sample.line, character: 0 });
    assert.deepEqual(
      [sample.cell?.uri, sample.cell?.line, sample.cell?.character],
      [link!.targetUri, link!.targetSelectionRange.start.line, link!.targetSelectionRange.start.character],
    );
    assert.match(sample.doing, /pull/);
    assert.equal(await trace.sample({ uri: run, line: 0 }), undefined);
  });

  test('a span: both ends, the mean over time, the extremes', async () => {
    const { trace, workspace } = car('=== sessions/ramp.session.csv\nTime (s),Engine Speed (rpm)\n0,1000\n1,2000\n2,3000\n4,3000\n');
    const span = (await trace.span({ uri: workspace.uri('sessions/ramp.session.csv'), fromS: 4, toS: 0 }))!;
    // By hand: 1500 for one second, 2500 for one, 3000 for two.
    assert.deepEqual(span, { fromS: 0, toS: 4, channels: [{ from: 1000, to: 3000, mean: 2500, low: 1000, high: 3000 }] });
  });

  test('two runs lie over each other by the best match of their engine speeds', async () => {
    const { trace, run, workspace, service } = car(`=== sessions/second.session.csv\n${sampleDrive()}`);
    const second = workspace.uri('sessions/second.session.csv');
    const index = (await trace.summary(run))!.runs.findIndex(({ pull }) => pull > 0);
    const ask = (against: 'speed' | 'seconds', align: 'start' | 'speed' | 'match') =>
      trace.runs({
        uri: run,
        runs: [
          { uri: run, run: index },
          { uri: second, run: index },
        ],
        channels: ['engine-speed', 'lambda'],
        against,
        align,
        alignRpm: 4000,
        pixels: 800,
      });
    for (const align of ['start', 'speed', 'match'] as const) {
      const answer = (await ask('seconds', align))!;
      const [a, b, difference] = tablesOf(answer);
      assert.deepEqual(answer.offsetsS[0], answer.offsetsS[1]);
      assert.deepEqual([...a!.x], [...b!.x]);
      assert.ok(
        difference!.x.length > 0 && difference!.columns[0]!.every((value) => Math.abs(value) < 1e-5),
        'a run less itself is nothing',
      );
    }
    const [bySpeed] = tablesOf(await ask('speed', 'start'));
    assert.ok(rises(bySpeed!.x));
    // Each point leads back to its moment: the speed there is the one that it is drawn at.
    const [timed] = tablesOf(
      await trace.runs({
        uri: run,
        runs: [{ uri: run, run: index }],
        channels: [RUN_TIME],
        against: 'speed',
        align: 'start',
        alignRpm: 0,
        pixels: 800,
      }),
    );
    const { fromS } = (await trace.summary(run))!.runs[index]!;
    const middle = timed!.x.length >> 1;
    const there = (await trace.sample({ uri: run, timeS: fromS + timed!.columns[0]![middle]! }))!;
    assert.ok(Math.abs(there.values[0]! - timed!.x[middle]!) < 30, `${there.values[0]} rpm`);
    // A later beginning of the same sweep is found again.
    const { value: signals } = (await service.documents.signals(run))!;
    const pull = signals.pulls[0]!;
    const speed = { timeS: signals.timeS, rpm: signals.held('engine-speed'), ...pull },
      lagS = bestLagS(speed, { ...speed, from: pull.from + 20 });
    assert.ok(Math.abs(lagS - (signals.timeS[pull.from + 20]! - signals.timeS[pull.from]!)) < 0.03, `${lagS} s`);
  });

  test("a cell's visits hold the moments that are evidence on it", async () => {
    const { trace, run, ve, service } = car();
    const sample = (await trace.sample({ uri: run, timeS: (await trace.summary(run))!.runs.find(({ pull }) => pull > 0)!.fromS + 1 }))!;
    const visits = (await trace.visits({ uri: ve, line: sample.cell!.line, character: sample.cell!.character, session: run }))!;
    assert.ok(
      visits.visits.some(([fromS, toS]) => fromS <= sample.timeS && sample.timeS <= toS),
      JSON.stringify(visits),
    );
    assert.equal(
      (await service.references(ve, { line: sample.cell!.line, character: sample.cell!.character })).length > 0,
      visits.sessions.length > 0,
    );
    assert.equal(await trace.visits({ uri: ve, line: 0, character: 0, session: run }), undefined);
  });

  test('a copied span reads as a session again', async () => {
    const { trace, run, workspace, service } = car();
    const csv = (await trace.csv({ uri: run, channels: ['engine-speed', 'lambda'], fromS: 5, toS: 6 }))!;
    workspace.write('copied.session.csv', csv.text);
    const { session } = (await service.documents.signals(workspace.uri('copied.session.csv')))!.value;
    assert.equal(session.samples, csv.rows);
    assert.ok(csv.rows > 0 && csv.left === 0);
    assert.deepEqual(
      session.channels.map(({ quantity, unitFrom }) => [quantity, unitFrom]),
      [
        ['engine-speed', 'header'],
        ['lambda', 'header'],
      ],
    );
  });
});
