// How near to the truth is the evidence? Simulated drives that differ every run (`LEANSPOT_SEED` repeats one), scored by car type against
// the bars.

import { blindTrial, summaryOf, tableOf, type Trial } from '../support/accuracy/blindDrive.js';
import { CAR_KINDS, runSeed } from '../support/simulator/index.js';

const BARS = { rms: 0.01, ratio: 0.4, coverage: [0.9, 0.99], wellVisitedFirm: 0.85, delayS: 0.025 } as const;

export interface BenchResult {
  readonly pass: boolean;
  readonly seed: number;
  readonly text: string;
}

/** Runs `LEANSPOT_DRIVES` drives (36 where it is not set), all car types in turn. */
export function bench(seed = runSeed(), drives = Number(process.env.LEANSPOT_DRIVES ?? 36)): BenchResult {
  const only = process.env.LEANSPOT_CAR,
    kinds = CAR_KINDS.filter((kind) => !only || kind === only);
  const trials: Trial[] = [],
    worst: string[] = [];
  for (let i = 0; i < drives; i++) {
    const trial = blindTrial(kinds[i % kinds.length], (seed + i) >>> 0);
    trials.push(trial);
    const { rms } = summaryOf([trial]);
    if (rms > 0.015 || trial.firmWrong > 0 || Math.min(Math.abs(trial.delayErrorS), Math.abs(trial.gasDelayErrorS)) > 0.025) {
      worst.push(
        `  ${trial.kind} ${trial.seed} (${trial.style}): rms ${(100 * rms).toFixed(2)} %, ${trial.firmWrong} firm wrong, worst ${(100 * trial.worstFirm).toFixed(1)} %, delay ${(1000 * trial.delayErrorS).toFixed(0)} / ${(1000 * trial.gasDelayErrorS).toFixed(0)} ms`,
        ...trial.wrongCells.map((cell) => `    ${cell}`),
      );
    }
    if (process.stderr.isTTY) process.stderr.write(`\r${i + 1}/${drives} drives `);
  }
  // A scan without a wideband sensor is shown, and stands outside the bars.
  const judged = trials.filter((trial) => trial.kind !== 'obd'),
    all = summaryOf(judged.length ? judged : trials);
  const bars: [string, boolean][] = [
    [`rms error of the factor ${(100 * all.rms).toFixed(2)} % (at most 1.0 %)`, all.rms <= BARS.rms],
    [`${all.ratio.toFixed(2)} of the average's error (at most 0.40)`, all.ratio <= BARS.ratio],
    [
      `intervals hold the truth in ${(100 * all.coverage).toFixed(1)} % (90 to 99 %)`,
      all.coverage >= BARS.coverage[0] && all.coverage <= BARS.coverage[1],
    ],
    [`${all.firmWrong} firm cells wrong by more than 3 % (none)`, all.firmWrong === 0],
    [`${(100 * all.wellVisitedFirm).toFixed(0)} % of well-visited cells firm (at least 85 %)`, all.wellVisitedFirm >= BARS.wellVisitedFirm],
    [`delay within 25 ms of the truth at middle flow in ${(100 * all.delayWithin).toFixed(0)} % of drives (all)`, all.delayWithin === 1],
  ];
  return {
    pass: bars.every(([, held]) => held),
    seed,
    text: [
      `Evidence against the truth: ${drives} simulated drives, seed ${seed} (bars are over all cars but obd)`,
      tableOf(trials),
      ...bars.map(([words, held]) => `${held ? 'held ' : 'MISSED'} ${words}`),
      ...(worst.length ? ['worst drives:', ...worst] : []),
    ].join('\n'),
  };
}

if (process.argv[1]?.endsWith('evidence.ts')) {
  const { pass, text } = bench();
  console.log(text);
  process.exitCode = pass ? 0 : 1;
}
