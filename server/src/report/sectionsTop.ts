// What the customer reads: the car, the sessions, the verdict, the worst moments.

import type { Finding } from '../findings/finding.js';
import { withoutMore } from '../findings/spell.js';
import { html, type Content, type Markup } from './html.js';
import type { Report } from './model.js';
import { clockWords, counted, dataTable, severityMark } from './parts.js';
import { verdictOf } from './verdict.js';
import { isOfEngine } from './verdictWords.js';

export function headSection({ name, date, version, vehicle: { engine, fuel, injectors } }: Report): Markup {
  const blown = { natural: 'naturally aspirated', turbocharged: 'turbocharged', supercharged: 'supercharged' } as const;
  const words = [
    engine.displacementL === undefined ? '' : `${engine.displacementL} L`,
    engine.cylinders === undefined ? '' : counted(engine.cylinders, 'cylinder'),
    engine.aspiration ? blown[engine.aspiration] : '',
    fuel.blend === undefined
      ? fuel.stoichAfr === undefined
        ? 'fuel not stated'
        : `fuel with a stoichiometric AFR of ${fuel.stoichAfr}`
      : `fuel ${fuel.blend}`,
    injectors.flowCcPerMin === undefined ? '' : `injectors ${injectors.flowCcPerMin} cc/min`,
  ]
    .filter(Boolean)
    .join(', ');
  return html`<header><h1>${name}</h1><p class="under">Engine report of ${date}. ${words}. Made by Leanspot ${version}.</p></header>`;
}

export function verdictSection(report: Report): Markup {
  const { level, headline, sentences, details } = verdictOf(report);
  return html`<div class="verdict ${level}"><p class="headline">${headline}</p>${sentences.map((sentence) => html`<p>${sentence}</p>`)}</div>
${details.length > 0 && html`<h3>For the tuner</h3><ul>${details.map((line) => html`<li>${line}</li>`)}</ul>`}`;
}

const MOST_NOTES = 8,
  MOST_NOTE_CHARACTERS = 160;
const noteWords = (notes: Report['sessions'][number]['notes']): string =>
  notes
    .slice(0, MOST_NOTES)
    .map(([key, value]) => `${key}: ${value}`.slice(0, MOST_NOTE_CHARACTERS))
    .join('; ') + (notes.length > MOST_NOTES ? '; …' : '');

export function sessionsSection({ sessions, table }: Report): Markup {
  if (sessions.length === 0) return html`<p>No session was found in the vehicle's folder.</p>`;
  return dataTable(
    'Sessions looked at',
    [
      { head: 'File' },
      { head: 'Notes in it' },
      { head: 'Length', number: true },
      { head: 'Rows', number: true },
      { head: 'Channels', number: true },
      { head: 'Pulls', number: true },
      { head: 'Logged with' },
    ],
    sessions.map(({ file, notes, startIso, durationS, samples, channels, pulls, loggedWith }): Content[] => [
      html`<span class="file">${file}</span>`,
      [startIso === undefined ? '' : `started ${startIso}; `, noteWords(notes)],
      clockWords(durationS),
      samples,
      channels,
      pulls.length,
      !table
        ? ''
        : loggedWith.unheard
          ? 'a table that is not there: no evidence'
          : loggedWith.isPresent
            ? (loggedWith.name ?? 'the table as it is now (assumed)')
            : (loggedWith.name ?? 'an earlier state of the table'),
    ]),
  );
}

/** The worst few of each kind in each file: ten alike would hide another. */
const MOST_ALIKE = 3;
const MOST_MOMENTS = 30;

export function worstSection({ sessions, otherFindings, table }: Report): Markup {
  const files = [...sessions, ...otherFindings, ...(table ? [table] : [])];
  const groups = files.flatMap(({ file, findings }) => {
    const kinds = new Map<string, Finding[]>();
    for (const finding of findings)
      if (finding.severity === 'error' || finding.severity === 'warning')
        kinds.set(finding.code, [...(kinds.get(finding.code) ?? []), finding]);
    return [...kinds.values()].map((alike) => ({ file, alike: alike.sort((a, b) => weight(b) - weight(a)) }));
  });
  if (groups.length === 0) return html`<p>No error and no warning in any file.</p>`;
  const rows = groups
    .flatMap(({ file, alike }) => {
      const shown = alike.slice(0, MOST_ALIKE);
      const more = alike.slice(MOST_ALIKE).reduce(
        (sum, finding) => sum + 1 + moreOf(finding),
        shown.reduce((sum, finding) => sum + moreOf(finding), 0),
      );
      return shown.map((finding, at) => ({ file, finding, more: at === shown.length - 1 ? more : 0 }));
    })
    .sort((a, b) => weight(b.finding) - weight(a.finding))
    .slice(0, MOST_MOMENTS);
  return dataTable(
    'Errors and warnings, the worst first',
    [{ head: 'How bad' }, { head: 'File' }, { head: 'When', number: true }, { head: 'What, and what to check first' }],
    rows.map(({ file, finding: { severity, timeS, message, range }, more }): Content[] => [
      severityMark(severity),
      html`<span class="file">${shortName(file)}</span>`,
      `${timeS ? `${timeS[0].toFixed(1)} s, ` : ''}line ${range.start.line + 1}`,
      [withoutMore(message).message, more > 0 && ` And ${more} more of this kind in this file.`],
    ]),
  );
}

const moreOf = ({ message }: Finding): number => withoutMore(message).more;
/** What harms the engine before what harms a reading; a cylinder that misses under load, then the farthest from its target first. */
const weight = (finding: Finding): number =>
  (finding.severity === 'error' ? 1000 : 0) +
  (isOfEngine(finding) ? 100 : 0) +
  (finding.data?.underLoad === true ? 10 : 0) +
  Number(finding.data?.byLambda ?? 0);
/** Names are told in full where the report lists what was looked at. */
const shortName = (file: string): string => file.slice(file.lastIndexOf('/') + 1).replace(/\.(session|table)\.csv$/, '');
