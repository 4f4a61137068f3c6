// What the customer reads: the car, the sessions, the verdict, the worst moments.

import { html, type Content, type Markup } from './html.js';
import type { Report } from './model.js';
import { clockWords, counted, dataTable, severityMark } from './parts.js';
import { verdictOf } from './verdict.js';

export function headSection({ name, date, version, vehicle: { engine, fuel, injectors } }: Report): Markup {
  const blown = { natural: 'naturally aspirated', turbocharged: 'turbocharged', supercharged: 'supercharged' } as const;
  const words = [
    engine.displacementL === undefined ? '' : `${engine.displacementL} L`, engine.cylinders === undefined ? '' : counted(engine.cylinders, 'cylinder'), engine.aspiration ? blown[engine.aspiration] : '',
    fuel.blend === undefined ? fuel.stoichAfr === undefined ? 'fuel not stated' : `fuel of ${fuel.stoichAfr} : 1` : `fuel ${fuel.blend}`, injectors.flowCcPerMin === undefined ? '' : `injectors ${injectors.flowCcPerMin} cc/min`,
  ].filter(Boolean).join(', ');
  return html`<header><h1>${name}</h1><p class="under">Engine report of ${date}. ${words}. Made by Leanspot ${version}.</p></header>`;
}

export function verdictSection(report: Report): Markup {
  const { level, headline, sentences, details } = verdictOf(report);
  return html`<div class="verdict ${level}"><p class="headline">${headline}</p>${sentences.map((sentence) => html`<p>${sentence}</p>`)}</div>
${details.length > 0 && html`<h3>For the tuner</h3><ul>${details.map((line) => html`<li>${line}</li>`)}</ul>`}`;
}

const MOST_NOTES = 8, MOST_NOTE_CHARACTERS = 160;
const noteWords = (notes: Report['sessions'][number]['notes']): string =>
  notes.slice(0, MOST_NOTES).map(([key, value]) => `${key}: ${value}`.slice(0, MOST_NOTE_CHARACTERS)).join('; ') + (notes.length > MOST_NOTES ? '; …' : '');

export function sessionsSection({ sessions, table }: Report): Markup {
  if (sessions.length === 0) return html`<p>No session was found in the vehicle's folder.</p>`;
  return dataTable('Sessions looked at', [{ head: 'File' }, { head: 'Notes in it' }, { head: 'Length', number: true }, { head: 'Rows', number: true }, { head: 'Channels', number: true }, { head: 'Pulls', number: true }, { head: 'Logged with' }],
    sessions.map(({ file, notes, startIso, durationS, samples, channels, pulls, loggedWith }): Content[] => [
      html`<span class="file">${file}</span>`, [startIso === undefined ? '' : `begun ${startIso}; `, noteWords(notes)], clockWords(durationS), samples, channels, pulls.length,
      !table ? '' : loggedWith.unheard ? 'a table that is not there: no evidence' : loggedWith.isPresent ? loggedWith.name ?? 'the table as it is now (assumed)' : loggedWith.name ?? 'an earlier state of the table',
    ]));
}

const MOST_MOMENTS = 25;

export function worstSection({ sessions, otherFindings, table }: Report): Markup {
  const rows = [
    ...sessions.flatMap(({ file, findings }) => findings.map((finding) => ({ file, finding }))),
    ...otherFindings.flatMap(({ file, findings }) => findings.map((finding) => ({ file, finding }))),
    ...(table?.findings ?? []).filter(({ code }) => !code.startsWith('cell-')).map((finding) => ({ file: table!.file, finding })),
  ].filter(({ finding: { severity } }) => severity === 'error' || severity === 'warning');
  if (rows.length === 0) return html`<p>No error and no warning in any file.</p>`;
  const weight = ({ finding: { severity, data } }: (typeof rows)[number]): number => (severity === 'error' ? 1000 : 0) + Number(data?.byLambda ?? 0);
  const sorted = [...rows].sort((a, b) => weight(b) - weight(a));
  // The worst of each kind in each file stand first, so that ten alike do not hide another.
  const seen = new Set<string>();
  const first = sorted.filter(({ file, finding: { code } }) => { const key = `${file} ${code}`; return seen.has(key) ? false : (seen.add(key), true); });
  const shown = [...first, ...sorted.filter((each) => !first.includes(each))].slice(0, MOST_MOMENTS);
  shown.sort((a, b) => weight(b) - weight(a));
  return html`${dataTable('Errors and warnings, the worst first', [{ head: 'How bad' }, { head: 'Session or file' }, { head: 'When', number: true }, { head: 'What, and what to check first' }],
    shown.map(({ file, finding: { severity, timeS, message, range } }): Content[] => [severityMark(severity), html`<span class="file">${file}</span>`, timeS ? `${timeS[0].toFixed(1)} s` : `line ${range.start.line + 1}`, message]))}
${rows.length > shown.length && html`<p>And ${rows.length - shown.length} more; <code>leanspot check</code> lists them all.</p>`}`;
}
