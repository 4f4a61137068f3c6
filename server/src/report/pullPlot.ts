// A pull as a drawing: lambda with its target, manifold pressure and spark over seconds and engine speed. Lines differ in dash as well as
// colour.

import { html, px, type Markup } from './html.js';
import type { PullCurves, PullReport } from './model.js';

/** Extents that all pulls of a report share, so that they can be compared by eye. */
export interface PlotScales {
  readonly lambda: readonly [low: number, high: number];
  readonly pressureKPa: readonly [low: number, high: number] | undefined;
  readonly sparkDeg: readonly [low: number, high: number] | undefined;
}

const WIDTH = 360,
  LEFT = 40,
  RIGHT = 8;
const LAMBDA = { top: 14, height: 74 },
  PRESSURE = { height: 34 },
  SPARK = { height: 28 },
  GAP = 12;

/** Okabe and Ito (2008): blue, vermilion, green; black for what is asked for. */
const BLUE = '#0072b2',
  VERMILION = '#d55e00',
  GREEN = '#007a5a',
  PURPLE = '#8a4a75',
  GREY = '#595959';

/** Single readings beyond this share at either end do not stretch the scale; they are drawn at its edge. */
const OUTLIERS = 0.01;

export function scalesOf(pulls: readonly PullCurves[]): PlotScales {
  const extent = (
    pick: (curves: PullCurves) => readonly (readonly number[] | undefined)[],
    step: number,
    least: number,
    most: number,
  ): readonly [number, number] | undefined => {
    const values = pulls
      .flatMap((curves) => pick(curves).flatMap((each) => each ?? []))
      .filter((value) => value === value)
      .sort((a, b) => a - b);
    if (values.length === 0) return undefined;
    const at = (share: number): number => values[Math.round(share * (values.length - 1))];
    const from = Math.max(least, Math.floor(at(OUTLIERS) / step) * step),
      to = Math.min(most, Math.ceil(at(1 - OUTLIERS) / step) * step);
    return to - from >= step ? [from, to] : [from, from + step];
  };
  return {
    lambda: extent(({ lambda, lambda2, target }) => [lambda, lambda2, target], 0.05, 0.6, 1.3) ?? [0.7, 1.1],
    pressureKPa: extent(({ pressureKPa }) => [pressureKPa], 20, 0, 500),
    sparkDeg: extent(({ sparkDeg }) => [sparkDeg], 5, -40, 70),
  };
}

/** `id` must be its own on the page. `leanLimit`: lambda above target that is an error. */
export function pullPlot(report: PullReport, scales: PlotScales, id: string, leanLimit: number): Markup {
  const { curves, number, lean, worstS, fromS, pull } = report,
    { timeS } = curves;
  const lastS = Math.max(timeS[timeS.length - 1] ?? 1, 0.1);
  const x = (seconds: number): number => LEFT + ((WIDTH - LEFT - RIGHT) * seconds) / lastS;
  const lanes: Markup[] = [];
  let top = LAMBDA.top;
  const lane = (
    height: number,
    [low, high]: readonly [number, number],
    title: string,
    digits: number,
    draw: (y: (value: number) => number) => Markup,
  ): void => {
    const y = (value: number): number => top + height * (1 - (Math.min(high, Math.max(low, value)) - low) / (high - low));
    lanes.push(html`<g><path class="axis" d="M${px(LEFT)} ${px(top)}H${px(WIDTH - RIGHT)}M${px(LEFT)} ${px(top + height)}H${px(WIDTH - RIGHT)}"/>
<text x="${px(LEFT - 4)}" y="${px(top + 7)}" class="end">${high.toFixed(digits)}</text><text x="${px(LEFT - 4)}" y="${px(top + height)}" class="end">${low.toFixed(digits)}</text>
<text x="${px(LEFT)}" y="${px(top - 3)}">${title}</text>${draw(y)}</g>`);
    top += height + GAP;
  };
  const line = (
    values: readonly number[] | undefined,
    y: (value: number) => number,
    colour: string,
    dash = '',
    width = 1.4,
  ): Markup | undefined =>
    values &&
    html`<path fill="none" stroke="${colour}" stroke-width="${width}"${dash ? html` stroke-dasharray="${dash}"` : ''} d="${linePath(timeS, values, x, y)}"/>`;

  const worst = worstS !== undefined && pull.worstLambda !== undefined ? { atS: worstS - fromS, lambda: pull.worstLambda } : undefined;
  lane(
    LAMBDA.height,
    scales.lambda,
    'λ measured (solid), asked for (dashed)',
    2,
    (y) =>
      html`${curves.lambda && curves.target && areaAbove(timeS, curves.lambda, curves.target, leanLimit, x, y)}${line(curves.target, y, '#000000', '5 3', 1.2)}${line(curves.lambda, y, BLUE)}${line(curves.lambda2, y, GREEN, '8 2 2 2')}${worst && lean && html`<circle cx="${px(x(worst.atS))}" cy="${px(y(worst.lambda))}" r="4.5" fill="none" stroke="${VERMILION}" stroke-width="1.6"/><text x="${px(Math.min(x(worst.atS) + 7, WIDTH - 62))}" y="${px(Math.max(y(worst.lambda) - 5, LAMBDA.top + 8))}" class="mark">worst λ ${worst.lambda.toFixed(2)}</text>`}`,
  );
  if (scales.pressureKPa && curves.pressureKPa)
    lane(PRESSURE.height, scales.pressureKPa, 'manifold pressure, kPa', 0, (y) => html`${line(curves.pressureKPa, y, PURPLE)}`);
  if (scales.sparkDeg && curves.sparkDeg)
    lane(SPARK.height, scales.sparkDeg, 'spark, ° before top dead centre', 0, (y) => html`${line(curves.sparkDeg, y, GREY, '2 2')}`);

  const ticks = tickSeconds(lastS).map((seconds) => {
    const rpm = curves.rpm[nearest(timeS, seconds)];
    const anchor = x(seconds) > WIDTH - 20 ? 'end' : 'mid';
    return html`<path class="axis" d="M${px(x(seconds))} ${px(LAMBDA.top)}V${px(top - GAP + 3)}"/><text x="${px(x(seconds))}" y="${px(top)}" class="${anchor}">${Number(seconds.toFixed(1))} s</text>${rpm > 0 && html`<text x="${px(x(seconds))}" y="${px(top + 10)}" class="${anchor}">${Math.round(rpm / 10) * 10}</text>`}`;
  });
  const height = top + 15;
  return html`<svg class="plot" viewBox="0 0 ${WIDTH} ${px(height)}" role="img" aria-labelledby="${id}-t ${id}-d"><title id="${id}-t">Pull ${number}: lambda, pressure and spark over time</title><desc id="${id}-d">${descriptionOf(report)}</desc>${ticks}${lanes}<text x="2" y="${px(top + 10)}">rpm</text></svg>`;
}

function descriptionOf({ pull, leanSpell, richSpell, missSpell }: PullReport): string {
  const target = pull.worstTargetLambda === undefined ? '' : ` for a target of ${pull.worstTargetLambda.toFixed(2)}`;
  const within = pull.worstTargetLambda === undefined || richSpell || missSpell ? '' : ', within the limit';
  const rich = richSpell ? ` Richer than the limit for ${richSpell.lastsS.toFixed(1)} s, λ ${richSpell.lambda.toFixed(2)}.` : '';
  const worst =
    pull.worstLambda === undefined
      ? 'No believed lambda reading.'
      : `Leanest reading λ ${pull.worstLambda.toFixed(2)}${target}${leanSpell ? `, leaner than the limit for ${leanSpell.lastsS.toFixed(1)} s` : within}.${rich}${missSpell ? ` A cylinder seems to miss for ${missSpell.lastsS.toFixed(1)} s.` : ''}`;
  return `${Math.round(pull.fromRpm)} to ${Math.round(pull.toRpm)} rpm. ${worst}${pull.peakManifoldPressureKPa === undefined ? '' : ` Pressure up to ${Math.round(pull.peakManifoldPressureKPa)} kPa.`}`;
}

/** Straight lines between readings; broken where there is none. */
function linePath(
  timeS: readonly number[],
  values: readonly number[],
  x: (seconds: number) => number,
  y: (value: number) => number,
): string {
  let path = '',
    pen = false;
  timeS.forEach((seconds, i) => {
    const value = values[i];
    if (value !== value) {
      pen = false;
      return;
    }
    path += `${pen ? 'L' : 'M'}${px(x(seconds))} ${px(y(value))}`;
    pen = true;
  });
  return path;
}

/** Shaded where lambda stands above its target by more than the limit. */
function areaAbove(
  timeS: readonly number[],
  lambda: readonly number[],
  target: readonly number[],
  limit: number,
  x: (seconds: number) => number,
  y: (value: number) => number,
): Markup | undefined {
  let path = '';
  for (let i = 0; i < timeS.length; i++) {
    if (!(lambda[i] - target[i] > limit)) continue;
    const from = i;
    while (i + 1 < timeS.length && lambda[i + 1] - target[i + 1] > limit) i++;
    if (i === from) continue;
    const along = Array.from({ length: i - from + 1 }, (_, k) => from + k);
    path += `M${along.map((k) => `${px(x(timeS[k]))} ${px(y(lambda[k]))}`).join('L')}L${along
      .reverse()
      .map((k) => `${px(x(timeS[k]))} ${px(y(target[k]))}`)
      .join('L')}Z`;
  }
  return path === '' ? undefined : html`<path d="${path}" fill="${VERMILION}" fill-opacity="0.28"/>`;
}

function tickSeconds(lastS: number): number[] {
  const step = [0.5, 1, 2, 5, 10, 20, 50].find((each) => lastS / each <= 6) ?? lastS / 5;
  return Array.from({ length: Math.floor(lastS / step + 1e-9) + 1 }, (_, k) => k * step);
}

const nearest = (timeS: readonly number[], seconds: number): number => {
  let best = 0;
  timeS.forEach((value, i) => {
    if (Math.abs(value - seconds) < Math.abs(timeS[best] - seconds)) best = i;
  });
  return best;
};
