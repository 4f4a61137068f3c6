// Findings as lines that can be read aloud: by file, the worst first, a summary and the cautions that go with what was found.

import type { Finding, Severity } from '../../findings/finding.js';
import { codesWhere } from '../../findings/registry.js';
import type { SessionSummary } from '../../service/check.js';
import { scopeLines, type Scope } from '../../service/scope.js';
import { awake, type Checked, type Writer } from '../check.js';
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
  error: (text) => coloured.bold(coloured.red(text)),
  warning: coloured.yellow,
  information: coloured.cyan,
  hint: coloured.dim,
};

/** Of each file its lines are kept, for the worst comes first. */
export function textWriter(): Writer {
  const files: { readonly path: string; readonly counts: Counts; readonly text: string }[] = [];
  const all = countsOf([]);
  const scopes: Scope[] = [];
  let [checked, clean, isDanger] = [0, 0, false];
  return {
    add(file) {
      const findings = awake(file),
        counts = countsOf(findings);
      checked++;
      if (file.scope) scopes.push(file.scope);
      if (findings.length === 0) clean++;
      for (const severity of ORDER) all[severity] += counts[severity];
      isDanger ||= findings.some(({ code, severity }) => DANGER.has(code) && severity !== 'information');
      if (findings.length > 0 || file.session)
        files.push({ path: file.path, counts, text: [heading(file), ...findings.map((finding) => line(file.path, finding))].join('\n') });
    },
    end({ rest }) {
      for (const { text } of files.sort(worstFirst)) write(`${text}\n\n`);
      // What is told, and what is quiet, is no more than what could be judged.
      const lines = scopeLines(scopes)
        .map((each) => `\n${visible(each)}`)
        .join('');
      write(
        [summary(checked, clean, all) + lines + (rest ? `\n${restWords(rest)}` : ''), ...(isDanger ? [CAUTIONS] : [])].join('\n\n') + '\n',
      );
    },
  };
}

type Counts = Record<Severity, number>;

function countsOf(findings: readonly Finding[]): Counts {
  const counts: Counts = { error: 0, warning: 0, information: 0, hint: 0 };
  for (const { severity } of findings) counts[severity]++;
  return counts;
}

const heading = ({ path, session, earlierTable }: Checked): string =>
  coloured.bold(visible(path)) +
  (session ? coloured.dim(`  ${sessionWords(session)}`) : '') +
  // Its findings stay true of that drive; whether the change cured them only a later session tells.
  (earlierTable === undefined ? '' : `, logged with ${visible(earlierTable)}, before the table as it is now`);

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

function summary(checked: number, clean: number, { error, warning, information }: Counts): string {
  if (error + warning + information === 0) return `No findings in ${counted(checked, 'file')}.`;
  const counts = [counted(error, 'error'), counted(warning, 'warning'), counted(information, 'note')].join(', ');
  return `${counts} in ${counted(checked, 'file')}${clean > 0 ? `, ${clean} of them without findings` : ''}.`;
}

function restWords({ path, resting, mended }: Rest): string {
  const rests =
    resting === 0 ? `None rests in ${path}.` : `${counted(resting, 'more finding')} ${resting === 1 ? 'rests' : 'rest'} in ${path}.`;
  return mended === 0
    ? rests
    : `${rests} ${counted(mended, 'entry', 'entries')} there ${mended === 1 ? 'is' : 'are'} found no more: --write-baseline drops ${mended === 1 ? 'it' : 'them'}.`;
}

function worstFirst(a: { readonly path: string; readonly counts: Counts }, b: typeof a): number {
  for (const severity of ORDER) if (a.counts[severity] !== b.counts[severity]) return b.counts[severity] - a.counts[severity];
  return a.path < b.path ? -1 : 1;
}
