// Two logs of one drive are brought onto one clock: against the truth that was planted, and against SciPy's correlation and optimiser on
// the same readings.

import assert from 'node:assert/strict';
import { spawnSync, type SpawnSyncReturns } from 'node:child_process';
import type { ClockFit } from '../../../server/src/signals/clocks/fitClock.js';
import { matchSeries, type NoMatch } from '../../../server/src/signals/clocks/matchClocks.js';
import { seriesOf, type Series } from '../../../server/src/signals/clocks/series.js';
import { pythonWith } from '../../support/python.js';
import { drawDrive, drawFrom, logged, type LoggerOptions } from './twoLoggers.js';

const SEED = Number(process.env.LEANSPOT_SEED ?? Math.floor(Math.random() * 2 ** 31));
const series = ({ timeS, rpm }: { timeS: number[]; rpm: number[] }): Series =>
  seriesOf({ values: Float64Array.from(rpm), filled: rpm.length }, Float64Array.from(timeS));

/** Error of the line over the overlap, the greatest, seconds. */
function errorS(fit: ClockFit, a: LoggerOptions, b: LoggerOptions): number {
  const [from, to] = [Math.max(a.fromS, b.fromS), Math.min(a.toS, b.toS)];
  const shown = (logger: LoggerOptions, trueS: number): number => logger.showsS + (trueS - logger.fromS) * (1 + logger.fast);
  return Math.max(...[from, to].map((trueS) => Math.abs(fit.offsetS + (1 + fit.drift) * shown(b, trueS) - shown(a, trueS))));
}

const fitOf = (match: ClockFit | NoMatch, what: string): ClockFit => {
  assert.ok(!('refused' in match), `${what}: ${'refused' in match ? match.refused : ''}`);
  return match;
};

suite(`two clocks (LEANSPOT_SEED=${SEED})`, () => {
  test('drawn drives, rates, offsets, drifts, noise: found to a few hundredths of a second', () => {
    const draw = drawFrom(SEED);
    const errors: number[] = [];
    for (let round = 0; round < 10; round++) {
      const lengthS = draw.between(90, 1200);
      const drive = drawDrive(draw, lengthS);
      const logger = (): LoggerOptions => {
        const fromS = draw.between(0, 0.25 * lengthS);
        return {
          fromS,
          toS: lengthS - draw.between(0, 0.25 * lengthS),
          rateHz: [2, 4, 10, 20, 50][Math.floor(draw.next() * 5)],
          showsS: draw.between(-500, 5000),
          fast: draw.between(-0.003, 0.003),
          noiseRpm: draw.between(0, 25),
          stepRpm: [0.25, 1, 10, 25][Math.floor(draw.next() * 4)],
          lost: draw.next() < 0.5 ? 0.03 : 0,
          jitter: draw.next() < 0.5 ? 0.3 : 0,
        };
      };
      const [a, b] = [logger(), logger()];
      const what = `round ${round}: ${JSON.stringify([a, b])}`;
      const fit = fitOf(matchSeries(series(logged(drive, draw, a)), series(logged(drive, draw, b)), 'engine speed'), what);
      const off = errorS(fit, a, b);
      // Slow readings and a short overlap leave more open, and the fit says so itself: there it is held to its own word.
      const saidS = 3 * (fit.offsetDeviationS + (fit.driftDeviation * fit.overlapS) / 2);
      assert.ok(off < Math.max(0.08, saidS), `${what}: off by ${off} s, ${JSON.stringify(fit)}`);
      errors.push(off);
    }
    errors.sort((a, b) => a - b);
    assert.ok(errors[5] < 0.03, `half within 0.03 s: ${errors.map((each) => each.toFixed(4)).join(' ')}`);
  });

  test('a short log within a long one is found; a reading a second is enough for a long one', () => {
    const draw = drawFrom(SEED + 1);
    const drive = drawDrive(draw, 1500);
    const long: LoggerOptions = { fromS: 0, toS: 1500, rateHz: 20, showsS: 0, fast: 0, noiseRpm: 8, stepRpm: 1 };
    const short: LoggerOptions = { fromS: 700, toS: 820, rateHz: 10, showsS: 3, fast: 0.0001, noiseRpm: 8, stepRpm: 1 };
    const slow: LoggerOptions = { fromS: 50, toS: 1400, rateHz: 1, showsS: 0, fast: -0.0005, noiseRpm: 8, stepRpm: 1 };
    for (const other of [short, slow]) {
      for (const [a, b] of [
        [long, other],
        [other, long],
      ]) {
        const off = errorS(
          fitOf(matchSeries(series(logged(drive, draw, a)), series(logged(drive, draw, b)), 'engine speed'), 'found'),
          a,
          b,
        );
        assert.ok(off < 0.15, String(off));
      }
    }
  });

  test('what cannot be told is refused: a drive that repeats itself, another drive, an even run, a short log', () => {
    const draw = drawFrom(SEED + 2);
    const refused = (match: ClockFit | NoMatch, says: RegExp): void => {
      assert.ok('refused' in match, JSON.stringify(match));
      assert.match(match.refused, says);
      assert.doesNotMatch(match.refused, /\n/);
    };
    const log = (rpmAt: (atS: number) => number, fromS: number, toS: number, rateHz = 10): Series =>
      series(logged({ lengthS: toS, rpmAt }, draw, { fromS, toS, rateHz, showsS: 0, fast: 0, noiseRpm: 5, stepRpm: 1 }));
    const periodS = draw.between(5, 20);
    const wave = (atS: number): number =>
      3000 + 1200 * Math.sin((2 * Math.PI * atS) / periodS) + 300 * Math.sin((6 * Math.PI * atS) / periodS);
    refused(matchSeries(log(wave, 0, 400), log(wave, 30, 300), 'engine speed'), /matches as well/);
    refused(matchSeries(log(wave, 0, 300), log(wave, 0, 300), 'engine speed'), /matches as well/);
    const [one, other] = [drawDrive(draw, 600), drawDrive(draw, 600)];
    refused(matchSeries(log(one.rpmAt, 0, 600), log(other.rpmAt, 0, 600), 'engine speed'), /the same drive|nowhere/);
    refused(
      matchSeries(
        log(() => 2500, 0, 300),
        log(() => 2500, 0, 300),
        'engine speed',
      ),
      /nowhere|poorly|too even|matches as well/,
    );
    refused(matchSeries(log(one.rpmAt, 0, 600), log(one.rpmAt, 0, 8), 'engine speed'), /only 7\.9 s|only 8\.0 s/);
    const lap = (atS: number): number => one.rpmAt(atS % 120);
    refused(matchSeries(log(lap, 0, 480), log(lap, 100, 300), 'engine speed'), /matches as well/);
  });

  test('the same line as SciPy finds (signal.correlate on even grids, then optimize.least_squares)', function () {
    const python = pythonWith('scipy');
    if (!python) this.skip(); // no SciPy here (.ci/run installs it): the planted clocks above judge the same fit
    const draw = drawFrom(SEED + 3);
    for (let round = 0; round < 3; round++) {
      const drive = drawDrive(draw, 500);
      const a = logged(drive, draw, { fromS: 0, toS: 500, rateHz: 20, showsS: 0, fast: 0, noiseRpm: 10, stepRpm: 1 });
      const b = logged(drive, draw, {
        fromS: draw.between(10, 80),
        toS: 470,
        rateHz: 10,
        showsS: 0,
        fast: draw.between(-0.0004, 0.0004),
        noiseRpm: 10,
        stepRpm: 1,
      });
      const ran: SpawnSyncReturns<string> = spawnSync(python, ['-c', SCIPY], { input: JSON.stringify({ a, b }), encoding: 'utf8' });
      assert.equal(ran.status, 0, ran.stderr);
      const [offsetS, drift] = JSON.parse(ran.stdout) as [number, number];
      const fit = fitOf(matchSeries(series(a), series(b), 'engine speed'), 'found');
      for (const timeS of [0, b.timeS[b.timeS.length - 1]]) {
        const apartS = fit.offsetS + (1 + fit.drift) * timeS - (offsetS + (1 + drift) * timeS);
        assert.ok(
          Math.abs(apartS) < 0.02,
          `apart by ${apartS} s at ${timeS} s: ours ${fit.offsetS}, ${fit.drift}; SciPy ${offsetS}, ${drift}`,
        );
      }
    }
  });
});

const SCIPY = `
import json, sys
import numpy as np
from scipy import signal, optimize
data = json.load(sys.stdin)
at, av = np.array(data['a']['timeS']), np.array(data['a']['rpm'])
bt, bv = np.array(data['b']['timeS']), np.array(data['b']['rpm'])
step = 0.1
ga = np.interp(np.arange(at[0], at[-1], step), at, av)
gb = np.interp(np.arange(bt[0], bt[-1], step), bt, bv)
da, db = np.diff(ga), np.diff(gb)
lag = signal.correlation_lags(len(da), len(db))[np.argmax(signal.correlate(da, db, method='fft'))]
start = at[0] - bt[0] + lag * step
def rest(p):
    where = p[0] + (1 + p[1] * 1e-3) * bt
    inside = (where > at[0]) & (where < at[-1])
    return np.where(inside, np.interp(where, at, av) - bv, 0) / 30
best = optimize.least_squares(rest, [start, 0.0], loss='soft_l1', diff_step=1e-4, x_scale=[0.1, 0.1])
for _ in range(3):
    best = optimize.least_squares(rest, best.x, loss='soft_l1', diff_step=1e-5, x_scale=[0.1, 0.1])
best = optimize.minimize(lambda p: np.sum(2 * (np.sqrt(1 + rest(p) ** 2) - 1)), best.x, method='Nelder-Mead', options={'xatol': 1e-5, 'fatol': 1e-9})
print(json.dumps([best.x[0], best.x[1] * 1e-3]))
`;
