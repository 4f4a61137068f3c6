// Banks that contradict each other where no misfire tells it: once a session, at the leaner one. Which of them is wrong the readings do not
// tell.

import { formatNumber } from '../quantities/format.js';
import { banksApart, BANKS_APART } from '../signals/mixture/banksApart.js';
import { crossedSensors } from '../signals/mixture/crossedSensors.js';
import { missesOf } from '../signals/mixture/misfire.js';
import { believed, operatingOf } from '../signals/drive/operating.js';
import type { Signals, Span } from '../signals/signals.js';
import { lastsS, paint, spansOf, without } from '../signals/columns/spans.js';
import type { Finding } from './finding.js';
import { nameOf, spellFinding, timesOf, whenText } from './spell.js';

/**
 * Longer than one of two sensors takes to recover from air or a film to settle; and how long they all last together (order of magnitude, no
 * source).
 */
const LEAST_S = 2,
  TOGETHER_S = 5;

interface Spell extends Span {
  readonly lasts: number;
  readonly lean: 'lambda' | 'lambda-2';
  readonly leanLambda: number;
  readonly richLambda: number;
}

/** Of a warm engine under way. At idle a leak, or exhaust that flows back, sets the banks apart; and a bank that misses is told as that. */
const spellsApart = (signals: Signals): readonly Spell[] => {
  const apart = banksApart(signals),
    { timeS, recordings, vehicle } = signals;
  // Behind a catalyst nothing of the banks is seen.
  if (apart.length === 0 || crossedSensors(signals) || (vehicle.lambdaSensor.mount ?? 'upstream') !== 'upstream') return [];
  const mask = new Uint8Array(timeS.length),
    misses = missesOf(signals),
    one = believed(signals, 'lambda')!,
    other = believed(signals, 'lambda-2')!;
  for (const span of apart) paint(mask, span);
  const driven = without(mask, operatingOf(signals).air, ...(['idle', 'warm-up', 'cranking', 'engine-off'] as const).map(signals.during));
  return spansOf(driven, timeS, { recordings, leastS: LEAST_S })
    .map((span): Spell => {
      const [first, second] = [meanOver(one, span), meanOver(other, span)];
      return {
        ...span,
        lasts: lastsS(span, timeS),
        lean: first > second ? 'lambda' : 'lambda-2',
        leanLambda: Math.max(first, second),
        richLambda: Math.min(first, second),
      };
    })
    .filter(({ lean }) => !misses.some(({ channel }) => channel.quantity === lean));
};

export const banksApartFindings = (signals: Signals): Finding[] => {
  const spells = spellsApart(signals),
    togetherS = spells.reduce((sum, { lasts }) => sum + lasts, 0);
  if (togetherS < TOGETHER_S) return [];
  const longest = spells.reduce((a, b) => (b.lasts > a.lasts ? b : a)),
    { lean, leanLambda, richLambda } = longest;
  const [leaner, richer] = [lean, lean === 'lambda' ? ('lambda-2' as const) : ('lambda' as const)].map((bank) => signals.channel(bank)!);
  return [
    spellFinding(signals, leaner, longest, {
      code: 'value-implausible',
      severity: 'warning',
      message:
        `The banks contradict each other: ${nameOf(leaner)} reads λ ${formatNumber(leanLambda, 2)}, ${nameOf(richer)} λ ${formatNumber(richLambda, 2)} ${whenText(signals, longest)}${spells.length > 1 ? `, the longest of ${spells.length} spells (${formatNumber(togetherS, 0)} s in all)` : ''}; ` +
        `the banks of a sound engine stand less than ${formatNumber(100 * Math.expm1(BANKS_APART), 0)} % apart. A sensor, an injector or a cylinder is at fault, and which the readings do not tell: change the two sensors over first, then look at injectors and plugs. Until then it is no evidence on the table, and one bank may be lean under load.`,
      data: { kind: 'banks-apart', lean: leanLambda, rich: richLambda, spells: spells.map((span) => timesOf(signals, span)) },
    }),
  ];
};

const meanOver = (values: Float64Array, { from, to }: Span): number => {
  let sum = 0,
    count = 0;
  for (let i = from; i < to; i++)
    if (values[i] === values[i]) {
      sum += values[i];
      count++;
    }
  return sum / count;
};
