// Each full-throttle pull with its numbers and its plot.

import { limitOf } from '../formats/limits.js';
import { html, type Content, type Markup } from './html.js';
import type { PullReport, Report, SessionReport } from './model.js';
import { counted, dataTable } from './parts.js';
import { pullPlot, scalesOf } from './pullPlot.js';

/** Plots beyond this many make a page that no printer wants; the numbers of all pulls stand in the tables. */
const MOST_PLOTS = 120;

const number = (value: number | undefined, digits: number): string =>
  value === undefined || !Number.isFinite(value) ? '—' : value.toFixed(digits).replace('-', '−');

export function pullsSection(report: Report): Markup {
  const all = report.sessions.flatMap(({ pulls }) => pulls);
  if (all.length === 0) return html`<p>No full-throttle pull was found in the sessions.</p>`;
  const scales = scalesOf(all.map(({ curves }) => curves));
  const leanLimit = limitOf('leanUnderLoad', report.vehicle.limits).value;
  let left = MOST_PLOTS;
  return html`<p>${counted(all.length, 'pull')}. A lambda above its target is lean, one below it rich. Where it stood more than ${leanLimit} above for too long, the plot is shaded and the worst reading ringed. Lambda is drawn when it was read, a moment after the fuel was injected; readings that failed a check are not drawn. All plots have the same scales.</p>
${report.sessions
  .filter(({ pulls }) => pulls.length > 0)
  .map((session, index) => {
    const plotted = session.pulls.slice(0, Math.max(0, left));
    left -= plotted.length;
    return html`<h3>${session.file}</h3>${numbersTable(session)}
<div class="cards">${plotted.map((pull) => pullCard(pull, `p${index}-${pull.number}`, scales, leanLimit))}</div>
${plotted.length < session.pulls.length && html`<p>${session.pulls.length - plotted.length} more pulls of this session are not drawn (the report draws ${MOST_PLOTS}); their numbers stand in the table.</p>`}`;
  })}`;
}

const leanMark = (lean: PullReport['lean']): Content =>
  lean === 'error'
    ? html`<span class="sign error">■ lean</span>`
    : lean === 'warning'
      ? html`<span class="sign warning">▲ lean</span>`
      : '';

const richMark = (rich: PullReport['richSpell']): Content => rich && html`<span class="sign warning">▲ rich</span>`;

const missMark = (miss: PullReport['missSpell']): Content =>
  miss && (miss.dead ? html`<span class="sign error">■ misfire</span>` : html`<span class="sign warning">▲ misfire</span>`);

/** What the mixture did, the same of all banks as the table tells it. */
function mixtureWords({ pull: { worstLambda, worstTargetLambda, leanS }, leanSpell, richSpell, missSpell }: PullReport): string {
  const off = leanSpell ?? richSpell,
    parts: string[] = [];
  if (missSpell)
    parts.push(
      `a cylinder seems to miss for ${missSpell.lastsS.toFixed(1)} s: λ ${number(missSpell.lambda, 2)} against ${number(missSpell.reference, 2)} ${missSpell.referenceIs === 'bank' ? 'on the other bank' : 'asked for'}`,
    );
  if (off)
    parts.push(`${leanSpell ? 'lean' : 'rich'} for ${off.lastsS.toFixed(1)} s: λ ${number(off.lambda, 2)} for ${number(off.target, 2)}`);
  if (parts.length > 0) return parts.join('; ');
  if (worstLambda === undefined) return 'no believed lambda';
  if (worstTargetLambda === undefined) return `worst λ ${number(worstLambda, 2)}, no target`;
  return leanS !== undefined && leanS >= SHOWN_S
    ? `lean for ${leanS.toFixed(1)} s in all, at worst λ ${number(worstLambda, 2)} for ${number(worstTargetLambda, 2)}`
    : 'on target';
}

/** Less is shown as 0.0. */
const SHOWN_S = 0.05;

const isError = ({ lean, missSpell }: PullReport): boolean => lean === 'error' || missSpell?.dead === true;

function numbersTable({ file, pulls }: SessionReport): Markup {
  return dataTable(
    `Pulls of ${file}`,
    [
      { head: 'Pull', number: true },
      { head: 'At, s', number: true },
      { head: 'rpm', number: true },
      { head: 'kPa', number: true },
      { head: 'Worst λ', number: true },
      { head: 'Target', number: true },
      { head: 'Lean for, s', number: true },
      { head: 'Knock, °', number: true },
      { head: 'Spark, °', number: true },
      { head: 'Duty, %', number: true },
      { head: 'Fuel pressure drop, %', number: true },
      { head: 'Intake air rise, °C', number: true },
      { head: 'Mixture' },
    ],
    pulls.map(({ number: index, pull, fromS, lean, richSpell, missSpell }): Content[] => [
      index,
      fromS.toFixed(1),
      `${pull.fromRpm.toFixed(0)}–${pull.toRpm.toFixed(0)}`,
      number(pull.peakManifoldPressureKPa, 0),
      number(pull.worstLambda, 2),
      number(pull.worstTargetLambda, 2),
      number(pull.leanS, 1),
      number(pull.peakKnockRetardDeg, 1),
      number(pull.meanIgnitionAdvanceDeg, 1),
      number(pull.peakDutyPercent, 0),
      number(pull.fuelPressureDropPercent, 1),
      number(pull.intakeAirRiseC, 0),
      [missMark(missSpell), missSpell && lean && ' ', leanMark(lean), !lean && !missSpell && richMark(richSpell)],
    ]),
    (row) => isError(pulls[row]),
  );
}

function pullCard(report: PullReport, id: string, scales: Parameters<typeof pullPlot>[1], leanLimit: number): Markup {
  const { number: index, pull, fromS, toS, lean, richSpell, missSpell, facts } = report;
  return html`<article class="card${isError(report) ? ' error' : ''}"><h4>Pull ${index}, ${fromS.toFixed(1)} to ${toS.toFixed(1)} s${pull.gear === undefined ? '' : `, gear ${pull.gear}`}</h4><p>${missMark(missSpell)} ${lean ? leanMark(lean) : !missSpell && richMark(richSpell)} ${Math.round(pull.fromRpm)} to ${Math.round(pull.toRpm)} rpm, ${mixtureWords(report)}</p>
${pullPlot(report, scales, id, leanLimit)}
${facts.rows.length > 0 && html`<dl>${facts.rows.map(([label, value]) => html`<dt>${label}</dt><dd>${value}</dd>`)}</dl>`}${facts.says.map((sentence) => html`<p>${sentence}</p>`)}</article>`;
}
