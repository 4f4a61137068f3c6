// Findings as lines that can be read aloud: by file, the worst first, a summary and the cautions that go with what was found.

import type { Finding, Severity } from '../../findings/finding.js';
import { codesWhere } from '../../findings/registry.js';
import type { SessionSummary } from '../../service/languageService.js';
import { awake, type Checked, type Outcome } from '../check.js';
import type { Rest } from '../baseline.js';
import { coloured, counted, visible } from './words.js';
import { write } from './write.js';

const ORDER: readonly Severity[] = ['error', 'warning', 'information', 'hint'];
const SHOWN: Readonly<Record<Severity, string>> = { error: 'error', warning: 'warning', information: 'note', hint: 'hint' };

/** After these somebody may be about to drive or to change the table. */
const DANGER = codesWhere(({ danger }) => danger === true);

const CAUTIONS = `Caution: lean under load destroys engines. Lift, and find the cause before the next pull: fuel pressure first, never "tune around" it.
Believe no table change before the sensors are checked. Leanspot advises; a qualified person decides.`;

const PAINT: Readonly<Record<Severity, (text: string) => string>> = {
  error: (text) => coloured.bold(coloured.red(text)), warning: coloured.yellow, information: coloured.cyan, hint: coloured.dim,
};

export function writeText(all: readonly Checked[], { rest }: Outcome): void {
  const checked = all.map((file) => ({ ...file, findings: awake(file, rest) }));
  const files = checked.filter(({ findings, session }) => findings.length > 0 || session).sort(worstFirst);
  const blocks = files.map((file) => [heading(file), ...file.findings.map((finding) => line(file.path, finding))].join('\n'));
  const findings = checked.flatMap((file) => file.findings);
  blocks.push(summary(checked, findings) + (rest ? `\n${restWords(rest)}` : ''));
  if (findings.some(({ code, severity }) => DANGER.has(code) && severity !== 'information')) blocks.push(CAUTIONS);
  write(`${blocks.join('\n\n')}\n`);
}

const heading = ({ path, session, earlierTable }: Checked): string => coloured.bold(visible(path)) + (session ? coloured.dim(`  ${sessionWords(session)}`) : '')
  // Its findings stay true of that drive; whether the change cured them only a later session tells.
  + (earlierTable === undefined ? '' : `, logged with ${visible(earlierTable)}, before the table as it is now`);

/** `sessions/a.session.csv:813:18 error lean-under-load …`, counted from 1 as editors show it. */
const line = (path: string, { range: { start }, severity, code, message }: Finding): string =>
  `  ${visible(path)}:${start.line + 1}:${start.character + 1} ${PAINT[severity](SHOWN[severity])} ${coloured.dim(code)} ${visible(message)}`;

function sessionWords({ samples, durationS, channels, pulls }: SessionSummary): string {
  return `${durationWords(durationS)}, ${counted(samples, 'sample')}, ${counted(channels, 'channel')}, ${counted(pulls, 'pull')}`;
}

function durationWords(durationS: number): string {
  const seconds = Math.round(durationS);
  const minutes = Math.floor(seconds / 60);
  return minutes > 0 ? `${minutes} min ${seconds % 60} s` : `${durationS < 10 ? Math.round(durationS * 10) / 10 : seconds} s`;
}

function summary(checked: readonly Checked[], findings: readonly Finding[]): string {
  const count = (severity: Severity): number => findings.filter((finding) => finding.severity === severity).length;
  const clean = checked.filter((file) => file.findings.length === 0).length;
  if (findings.length === 0) return `No findings in ${counted(checked.length, 'file')}.`;
  const counts = [counted(count('error'), 'error'), counted(count('warning'), 'warning'), counted(count('information'), 'note')].join(', ');
  return `${counts} in ${counted(checked.length, 'file')}${clean > 0 ? `, ${clean} of them without findings` : ''}.`;
}

function restWords({ path, resting, mended }: Rest): string {
  const rests = resting.size === 0 ? `None rests in ${path}.` : `${counted(resting.size, 'more finding')} ${resting.size === 1 ? 'rests' : 'rest'} in ${path}.`;
  return mended === 0 ? rests : `${rests} ${counted(mended, 'entry', 'entries')} there ${mended === 1 ? 'is' : 'are'} found no more: --write-baseline drops ${mended === 1 ? 'it' : 'them'}.`;
}

function worstFirst(a: Checked, b: Checked): number {
  for (const severity of ORDER) {
    const count = ({ findings }: Checked): number => findings.filter((finding) => finding.severity === severity).length;
    if (count(a) !== count(b)) return count(b) - count(a);
  }
  return a.path < b.path ? -1 : 1;
}
