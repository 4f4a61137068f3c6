// What an honest report ends with: what was not looked at, the cautions, how each number came about, and what the report rests on.

import type { LeftOut } from '../fueling/evidence.js';
import { leftOutWords } from '../fueling/doubts/leftOutWords.js';
import { unreadWords } from '../fueling/doubts/unread.js';
import { html, type Markup } from './html.js';
import type { Report } from './model.js';
import { counted, dataTable, list } from './parts.js';
import { speaking } from './verdict.js';

const MOST_NAMES = 20;
const named = (names: readonly string[]): string =>
  names
    .slice(0, MOST_NAMES)
    .map((name) => name.slice(0, 60))
    .join(', ') + (names.length > MOST_NAMES ? ` and ${names.length - MOST_NAMES} more` : '');

export function notLookedSection(report: Report): Markup {
  const { sessions, table } = report;
  const items: string[] = [];
  for (const { file, notLogged, ignored, loggedWith, pulls, scope } of sessions) {
    if (notLogged.length > 0) items.push(`${file}: not logged, so nothing is known of ${named(notLogged)}.`);
    const unread = scope && unreadWords(scope);
    if (unread !== undefined) items.push(`${file}: ${unread}.`);
    if (scope && scope.notJudged.length > 0)
      items.push(`${file}: logged and not judged: ${scope.notJudged.map(([title, range]) => `${title} (${range})`).join(', ')}.`);
    if (ignored.length > 0)
      items.push(`${file}: switched off by a note in the file: ${named(ignored)}; those findings are not in this report.`);
    if (loggedWith.unheard) items.push(`${file}: the table that it was logged with is not there, so it is evidence on no cell.`);
    if (pulls.length === 0) items.push(`${file}: holds no full-throttle pull.`);
  }
  if (table && table.table.ignored.length > 0)
    items.push(`${table.file}: switched off by a note in the file: ${named(table.table.ignored)}.`);
  const evidence = table?.evidence;
  if (evidence) {
    const left = new Map<LeftOut, number>();
    for (const session of evidence.sessions)
      for (const [reason, count] of Object.entries(session.leftOut))
        left.set(reason as LeftOut, (left.get(reason as LeftOut) ?? 0) + count);
    const used = evidence.sessions.reduce((sum, session) => sum + session.used, 0);
    const words = [...left]
      .sort((a, b) => b[1] - a[1])
      .map(([reason, count]) => `${count} ${leftOutWords(reason, table.table)}`)
      .join('; ');
    items.push(`Of the lambda readings ${used} were weighed for the fuel table${words && `; left out: ${words}`}.`);
    const none = evidence.cells.filter(({ proof }) => proof === 'none').length;
    if (none > 0)
      items.push(
        `${counted(none, 'cell')} of the fuel table ${none === 1 ? 'was' : 'were'} never driven: nothing is known of them, and no change is proposed.`,
      );
  }
  if (!speaking(report).arePresent) items.push('No session was logged with the fuel table as it is now.');
  items.push(...distinct(sessions.flatMap(({ pulls }) => pulls.flatMap(({ facts }) => facts.unknown))));
  items.push('Spark and boost are shown, not judged: this report weighs fuel. Less fuel than intended with the same spark may knock.');
  items.push(
    'Nothing but the files listed at the end was looked at: no compression, no leak test, no plug, no fuel sample, no live vehicle.',
  );
  return list(items, '');
}

/** Each sentence once, with how often. */
const distinct = (sentences: readonly string[]): string[] => {
  const counts = new Map<string, number>();
  for (const sentence of sentences) counts.set(sentence, (counts.get(sentence) ?? 0) + 1);
  return [...counts].map(([sentence, count]) => (count > 1 ? `${sentence} (${count} pulls)` : sentence));
};

/** What the product has to say wherever its work could hurt someone. */
const CAUTIONS: readonly (readonly [about: string, words: string])[] = [
  [
    'Lean under load destroys engines',
    'within seconds. Lift off, stop the pull, find the cause before the next one: fuel pressure first. Do not tune around it.',
  ],
  [
    'Never read a screen while driving',
    'A passenger records, or it is done on a closed course or a dynamometer; look at the log after stopping.',
  ],
  [
    'Exhaust is hot and poisonous',
    'Only with extraction or in the open: carbon monoxide kills indoors, and hot parts burn skin and start fires.',
  ],
  ['Fuel burns', 'Release the pressure, no flames or sparks, extinguisher at hand; check for leaks after any work.'],
  [
    'The law',
    'Changing the calibration or the emission equipment of a road vehicle may be unlawful where you are. Local law decides and a licensed workshop knows it; this report gives no permission.',
  ],
  [
    'Sensor before table',
    'Believe no table change before the sensors are checked: warm, ahead of the catalyst, no leak, no misfire, the right fuel scale.',
  ],
  ['Keep the original calibration', 'in a safe place, and know how to put it back.'],
  ['Small steps', 'Change little, log again, compare. No evidence means no change.'],
  ['No warranty', 'Figures are advice to a competent person, who answers for the engine and the vehicle. A qualified person decides.'],
];

export const cautionsSection = (): Markup =>
  html`<div class="caution"><ul>${CAUTIONS.map(([about, words]) => html`<li><strong>${about}.</strong> ${words[0].toUpperCase()}${words.slice(1)}</li>`)}</ul></div>`;

export function computedSection(report: Report): Markup {
  const { sessions, table, vehicle, computed } = report;
  const delays = (table?.evidence?.sessions ?? [])
    .filter(({ transportDelay: { medianS } }) => Number.isFinite(medianS))
    .map(
      ({ session, transportDelay: { medianS, deviationS, from, byCar } }) =>
        `${session} ${(medianS * 1000).toFixed(0)} ± ${(2 * deviationS * 1000).toFixed(0)} ms (${byCar ? "found in the car's logs" : from === 'log' ? 'found in the log' : from === 'assumed' ? 'assumed: the log does not tell it' : 'as vehicle.json states'})`,
    );
  const assumed = distinctAssumed(sessions.flatMap(({ assumed: each }) => each));
  const pullAssumed = sessions.flatMap(({ pulls }) => pulls.flatMap(({ facts }) => facts.assumed));
  const power = sessions.flatMap(({ pulls }) => pulls).some(({ facts }) => facts.rows.some(([label]) => label === 'Wheel power'));
  return html`<dl>
<dt><strong>Pulls</strong></dt><dd>Throttle or manifold pressure at full load for longer than a limit while engine speed rises. “Worst λ” is the reading farthest above its target, of believed readings that were surely fuelled within the pull.</dd>
<dt><strong>Believed readings</strong></dt><dd>Readings in a dropout, at a sensor's end stop, stuck, from a cold sensor or not plausible are left out of every number here.</dd>
${table?.evidence && html`<dt><strong>The fuel table</strong></dt><dd>Each believed reading is carried back to the moment it was fuelled${delays.length > 0 && ` (delay at the middle flow: ${delays.join('; ')})`} and shared out to the four cells that the engine computer interpolates between. A cell's percentage is what its value must be changed by for measured lambda to meet its target, from all readings that weigh on it, with trims counted; 95 % interval from their spread, with readings close in time counted as less than independent. “Proven” is an interval narrow enough to act on. The proposal goes to the end of the interval that lies nearer to the present value, and no further than the largest step.</dd>`}
${power && html`<dt><strong>Power</strong></dt><dd>Wheel power = (mass × factor of turning parts × acceleration + air drag + rolling resistance) × speed, with mass ${vehicle.body.massKg} kg, drag area ${vehicle.body.dragAreaM2} m², rolling resistance ${vehicle.body.rollingResistance}; acceleration by straight lines fitted to the speed. Interval (95 %) from mass ±3 %, turning parts, drag ±10 %, rolling ±25 %, a road that may rise or fall 1 %, wind of 2 m/s, the speed's own error and noise, added as independent. Torque is wheel power over engine speed. SAE J1349: × 1.18 (99 kPa / dry air pressure) √((t + 273)/298) − 0.18. ISO 1585: × (99/p)^1.2 ((t + 273)/298)^0.6.</dd>`}
<dt><strong>Air and fuel</strong></dt><dd>Speed-density: VE × manifold pressure × displacement / (287.055 J/(kg K) × intake temperature), one filling each two turns. Fuel by injectors: flow × density × share of time open, with the square root of the pressure over them. Injectors wanted: power × fuel per kWh / (injectors × duty).</dd>
${computed.map(({ code, title, words }) => html`<dt><strong>${title}</strong> <code>${code}</code></dt><dd>${words}</dd>`)}
</dl>
${(assumed.length > 0 || pullAssumed.length > 0) && html`<h3>Taken for granted</h3>${list([...assumed, ...distinct(pullAssumed.filter((each) => !/^(speed:|turning parts add .* ratio of|a level road;)/.test(each))).map(capital), ...(power ? ['Pulls: a level road, unless a session notes its grade; turning parts by the gear, unless vehicle.json states them.'] : [])], '')}`}`;
}

const capital = (text: string): string => text[0].toUpperCase() + text.slice(1);
const distinctAssumed = (sentences: readonly string[]): string[] => [...new Set(sentences)].map(capital);

export function inputsSection({ inputs, date, version, table }: Report): Markup {
  return html`${dataTable(
    'Files that this report rests on',
    [{ head: 'File' }, { head: 'Bytes', number: true }, { head: 'SHA-256' }],
    inputs.map(({ file, bytes, sha256 }) => [html`<span class="file">${file}</span>`, bytes, html`<code class="hash">${sha256}</code>`]),
  )}
<p>The same files, date and version make the same report, byte for byte: <code>leanspot report FOLDER --output FILE.html --date ${date}</code>, Leanspot ${version}${table && `, largest step ${table.maxChangePercent} %`}.</p>`;
}
