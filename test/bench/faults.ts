// Are the warnings true, and is none missed? Plants faults in drawn, simulated and real recordings, runs the product over them, prints
// recall, severity and onset by class, and false alarms by healthy hour. Differs every run; `LEANSPOT_SEED` repeats one.

import { drawCase } from '../support/faults/draw.js';
import { findingsOf } from '../support/faults/product.js';
import { runSeed, seedOf } from '../support/faults/random.js';
import { score, type FalseAlarm, type Verdict } from '../support/faults/score.js';

const BARS = { recall: 0.99, falsePerHour: 0.2, onset: 0.95, severity: 0.98 };

export interface BenchResult {
  readonly pass: boolean;
  readonly seed: number;
  readonly text: string;
}

const percent = (part: number, whole: number): string => (whole === 0 ? '—' : `${((100 * part) / whole).toFixed(1)} %`);
const count = <T>(of: readonly T[], holds: (each: T) => boolean): number => of.reduce((sum, each) => sum + (holds(each) ? 1 : 0), 0);

const row = (name: string, of: readonly Verdict[]): string => {
  const found = of.filter((verdict) => verdict.found),
    timed = found.filter((verdict) => verdict.onsetRight !== undefined);
  return [
    name.padEnd(58),
    String(of.length).padStart(5),
    percent(found.length, of.length).padStart(9),
    percent(
      count(found, (v) => v.firstName),
      found.length,
    ).padStart(9),
    percent(
      count(found, (v) => v.severityRight),
      found.length,
    ).padStart(9),
    percent(
      count(timed, (v) => v.onsetRight === true),
      timed.length,
    ).padStart(9),
    (found.length === 0 ? '—' : (found.reduce((sum, v) => sum + v.findings, 0) / found.length).toFixed(2)).padStart(7),
  ].join(' ');
};

const alarmLine = (alarm: FalseAlarm): string =>
  `  ${alarm.code} ${alarm.severity} ${alarm.channel} [${alarm.timeS?.map((t) => t.toFixed(2)).join('–') ?? 'whole file'}] in ${alarm.state}; ${alarm.recording}, case ${alarm.seed}: ${alarm.message.slice(0, 150)}`;

/** Runs the bench over `LEANSPOT_RECORDINGS` recordings (240 where it is not set). */
export const bench = (seed = runSeed(), recordings = Number(process.env['LEANSPOT_RECORDINGS'] ?? 240)): BenchResult => {
  const verdicts: Verdict[] = [],
    alarms: FalseAlarm[] = [],
    lines: string[] = [],
    crashed: string[] = [];
  let healthyS = 0,
    wholeS = 0;
  const sources = new Map<string, number>();
  for (let index = 0; index < recordings; index++) {
    const caseSeed = seedOf(seed, index),
      recording = drawCase(caseSeed);
    wholeS += recording.timeS[recording.timeS.length - 1];
    const kind = recording.source.split(' ')[0];
    sources.set(kind, (sources.get(kind) ?? 0) + 1);
    try {
      const one = score(recording, findingsOf(recording));
      verdicts.push(...one.verdicts);
      alarms.push(...one.alarms);
      healthyS += one.healthyS;
    } catch (error) {
      crashed.push(
        `  ${recording.source}, case ${caseSeed}: ${error instanceof Error ? error.stack?.split('\n').slice(0, 3).join(' ') : String(error)}`,
      );
    }
    if (process.stderr.isTTY) process.stderr.write(`\r${index + 1}/${recordings}`);
  }
  if (process.stderr.isTTY) process.stderr.write('\r');

  lines.push(
    `Planted faults: seed ${seed}, ${recordings} recordings (${[...sources].map(([name, n]) => `${n} ${name}`).join(', ')}), ${(wholeS / 3600).toFixed(1)} h, of it ${(healthyS / 3600).toFixed(1)} h healthy`,
    '',
  );
  lines.push(
    [
      'class'.padEnd(58),
      'n'.padStart(5),
      'recall'.padStart(9),
      '1st name'.padStart(9),
      'severity'.padStart(9),
      'onset'.padStart(9),
      'pieces'.padStart(7),
    ].join(' '),
  );
  const classes = [...new Set(verdicts.map((verdict) => verdict.fault.class))].sort();
  for (const name of classes)
    lines.push(
      row(
        name,
        verdicts.filter((verdict) => verdict.fault.class === name),
      ),
    );
  lines.push(row('all', verdicts), '');

  const missed = verdicts.filter((verdict) => !verdict.found),
    found = verdicts.filter((verdict) => verdict.found),
    timed = found.filter((verdict) => verdict.onsetRight !== undefined);
  const misjudged = found.filter((verdict) => !verdict.severityRight),
    late = timed.filter((verdict) => verdict.onsetRight === false);
  const faultLine = (verdict: Verdict, more: string): string =>
    `  ${verdict.fault.class} (${verdict.fault.note}) at ${verdict.fault.spells[0]?.map((t) => t.toFixed(2)).join('–') ?? 'whole file'}${more}; ${verdict.recording}, case ${verdict.seed}`;
  const healthyAlarms = alarms.filter((alarm) => alarm.misnames === undefined),
    misnamed = alarms.filter((alarm) => alarm.misnames !== undefined);
  if (missed.length > 0) lines.push('Missed:', ...missed.map((verdict) => faultLine(verdict, '')), '');
  if (misjudged.length > 0)
    lines.push(
      'Severity not as expected:',
      ...misjudged.map((verdict) =>
        faultLine(
          verdict,
          `: ${verdict.code} ${verdict.severity}, expected ${verdict.fault.severities.join(' or ')} (${verdict.fault.because})`,
        ),
      ),
      '',
    );
  if (late.length > 0)
    lines.push(
      'Onset off:',
      ...late.map((verdict) => faultLine(verdict, `: off by ${verdict.onsetErrorS?.toFixed(2)} s (${verdict.code})`)),
      '',
    );
  if (healthyAlarms.length > 0) lines.push('False alarms in healthy time:', ...healthyAlarms.map(alarmLine), '');
  if (misnamed.length > 0)
    lines.push('Under a wrong name, on a fault:', ...misnamed.map((alarm) => `${alarmLine(alarm)} [fault: ${alarm.misnames}]`), '');
  if (crashed.length > 0) lines.push('Crashed:', ...crashed, '');

  const falsePerHour = healthyS > 0 ? (3600 * healthyAlarms.length) / healthyS : Infinity;
  // a class's own recall is judged where it has cases enough for the number to mean something
  const weakest = classes
    .map((name) => verdicts.filter((verdict) => verdict.fault.class === name))
    .map((of) => ({ name: of[0].fault.class, recall: count(of, (v) => v.found) / of.length }))
    .filter(({ recall }) => recall < BARS.recall);
  const bars: readonly (readonly [text: string, pass: boolean])[] = [
    [
      `recall ${percent(found.length, verdicts.length)} (bar ${100 * BARS.recall} % in every class; below it: ${weakest.map(({ name }) => name).join(', ') || 'none'})`,
      weakest.length === 0,
    ],
    [`false warnings and errors ${falsePerHour.toFixed(2)} per healthy hour (bar ${BARS.falsePerHour})`, falsePerHour <= BARS.falsePerHour],
    [
      `onset right ${percent(timed.length - late.length, timed.length)} (bar ${100 * BARS.onset} %)`,
      timed.length === 0 || (timed.length - late.length) / timed.length >= BARS.onset,
    ],
    [
      `severity right ${percent(found.length - misjudged.length, found.length)} (bar ${100 * BARS.severity} %)`,
      found.length > 0 && (found.length - misjudged.length) / found.length >= BARS.severity,
    ],
    [`crashed ${crashed.length} (bar 0)`, crashed.length === 0],
  ];
  lines.push(...bars.map(([text, pass]) => `${pass ? 'met    ' : 'not met'} ${text}`));
  return { pass: bars.every(([, pass]) => pass), seed, text: lines.join('\n') };
};

if (process.argv[1] === import.meta.filename) {
  const { text, pass } = bench();
  console.log(text);
  if (!pass) process.exitCode = 1;
}
