// The verdict: is it safe, can the readings be believed, what is to be done. Three sentences for the customer, a list for the tuner.

import type { Finding, FindingCode } from '../findings/finding.js';
import { codesWhere } from '../findings/registry.js';
import type { PullReport, Report, SessionReport } from './model.js';

export interface Verdict {
  readonly level: 'stop' | 'look' | 'clear' | 'unknown';
  /** One word or two, for those who read no further. */
  readonly headline: string;
  readonly sentences: readonly [safe: string, believe: string, next: string];
  readonly details: readonly string[];
}

const HEADLINES: Readonly<Record<Verdict['level'], string>> = { stop: 'Not safe at full throttle', look: 'Needs a look before the next full throttle', clear: 'Nothing unsafe was seen', unknown: 'Cannot be judged' };

/** What the engine suffers from. */
export const ENGINE = codesWhere(({ concerns }) => concerns === 'engine');
/** What its readings suffer from. */
const READINGS = codesWhere(({ concerns }) => concerns === 'readings');

const DANGERS: Readonly<Partial<Record<FindingCode, string>>> = {
  knock: 'the engine knocked', 'injector-duty-high': 'the injectors ran out of room', 'fuel-pressure-drop': 'fuel pressure fell', 'intake-air-hot': 'the intake air was too hot',
  'coolant-hot': 'the engine ran too hot', 'misfire-suspected': 'a cylinder seems to have missed', 'rich-under-load': 'far too much fuel was given under load', 'trouble-code': 'the engine computer holds a serious trouble code',
};
const FAULTS: Readonly<Partial<Record<FindingCode, string>>> = {
  'sensor-dropout': 'a sensor lost contact', 'channel-clipped': 'a sensor was at its end stop', 'channel-stuck': 'a reading was stuck', 'value-implausible': 'a reading is not plausible', 'sensor-cold': 'the mixture sensor was still cold',
  'sensor-mount': 'the mixture sensor sits where it cannot see what the engine burns', 'afr-scale-mismatch': 'the mixture seems to be shown on the wrong fuel\'s scale', 'time-gap': 'the log has gaps', 'time-reversed': 'the clock stepped back', 'unit-unknown': 'a unit was not stated',
};

/** How the verdict speaks of a code. */
export const wordsOf = (code: FindingCode): string | undefined => DANGERS[code] ?? FAULTS[code];

/** The sessions that speak of the table as it is now; all of them where none does. */
export function speaking({ sessions, table }: Report): { readonly sessions: readonly SessionReport[]; readonly arePresent: boolean } {
  const present = table ? sessions.filter(({ loggedWith }) => loggedWith.isPresent) : sessions;
  return present.length > 0 ? { sessions: present, arePresent: true } : { sessions, arePresent: sessions.length === 0 };
}

export const worstPull = (sessions: readonly SessionReport[]): { readonly session: SessionReport; readonly pull: PullReport } | undefined => {
  const over = ({ pull }: PullReport): number => (pull.worstLambda !== undefined && pull.worstTargetLambda !== undefined ? pull.worstLambda / pull.worstTargetLambda : -Infinity);
  return sessions.flatMap((session) => session.pulls.filter(({ lean }) => lean !== undefined).map((pull) => ({ session, pull })))
    .reduce<{ session: SessionReport; pull: PullReport } | undefined>((best, each) => (!best || over(each.pull) > over(best.pull) ? each : best), undefined);
};

export function verdictOf(report: Report): Verdict {
  const { sessions, arePresent } = speaking(report);
  const pulls = sessions.flatMap((session) => session.pulls);
  const judged = pulls.filter(({ pull }) => pull.worstLambda !== undefined && pull.worstTargetLambda !== undefined);
  const found = sessions.flatMap((session) => session.findings);
  const engine = found.filter(({ code }) => ENGINE.has(code));
  const errors = engine.filter(({ severity }) => severity === 'error'), warnings = engine.filter(({ severity }) => severity === 'warning');
  // Only a fault of the target itself is one of the tables as such; lean cells are what the pulls show already.
  const unsafeTarget = report.otherFindings.flatMap(({ findings }) => findings).some(({ code, severity }) => code === 'target-unsafe' && severity === 'error');
  const level = errors.length > 0 || unsafeTarget ? 'stop' : judged.length === 0 && warnings.length === 0 ? 'unknown' : warnings.length > 0 ? 'look' : 'clear';
  return {
    level, headline: HEADLINES[level],
    sentences: [safeSentence(level, sessions, judged.length, pulls.length, errors, warnings, unsafeTarget, arePresent), believeSentence(found), nextSentence(report, level, errors, warnings, arePresent)],
    details: details(report, sessions),
  };
}

function safeSentence(level: Verdict['level'], sessions: readonly SessionReport[], judged: number, pulls: number, errors: readonly Finding[], warnings: readonly Finding[], unsafeTarget: boolean, arePresent: boolean): string {
  const when = arePresent ? '' : ' (as it was set then)';
  const leanPulls = sessions.flatMap((session) => session.pulls).filter(({ lean }) => lean === (level === 'stop' ? 'error' : 'warning')).length;
  const worst = worstPull(sessions);
  const others = spoken(level === 'stop' ? errors : warnings, DANGERS);
  const lean = (level === 'stop' ? errors : warnings).some(({ code }) => code === 'lean-under-load');
  const leanWords = !lean ? '' : leanPulls > 0 && worst ? `in ${leanPulls} of ${judged} full-throttle pulls the engine got too little fuel, at worst ${shortPercent(worst.pull)}\u00a0% less than it was meant to get`
    : 'the engine got too little fuel under load';
  const what = [leanWords, ...others, unsafeTarget ? 'the mixture that is aimed at under full load is itself too lean' : ''].filter(Boolean);
  switch (level) {
    case 'stop': return `The engine is not safe at full throttle${when}: ${joined(what)}.`;
    case 'look': return `Nothing dangerous was seen${when}, but ${joined(what)}.`;
    case 'clear': return `In ${judged === pulls ? `all ${pulls}` : `${judged} of ${pulls}`} full-throttle pulls the engine got the fuel that it was meant to get${when}, and nothing else unsafe was seen in what was logged.`;
    case 'unknown': return sessions.length === 0 ? 'Nothing can be said of this engine: no session was found.'
      : pulls === 0 ? 'Nothing can be said of this engine at full throttle: the sessions hold no full-throttle pull.' : 'Nothing can be said of this engine at full throttle: mixture or its target was not logged, or could not be believed, in any pull.';
  }
}

/** Share of the wanted fuel that was missing: the air being what it was, fuel goes with one over lambda. */
const shortPercent = ({ pull }: PullReport): string => (100 * (1 - pull.worstTargetLambda! / pull.worstLambda!)).toFixed(0);

function believeSentence(found: readonly Finding[]): string {
  const faults = found.filter(({ code, severity }) => READINGS.has(code) && severity !== 'hint');
  if (faults.length === 0) return 'The readings can be believed as far as they could be checked.';
  const serious = faults.some(({ severity, code }) => severity === 'error' && code !== 'channel-clipped');
  return `${serious ? 'Some of the readings cannot be believed' : 'Most readings can be believed, not all'}: ${joined(spoken(faults, FAULTS))}; nothing was concluded from those moments.`;
}

function nextSentence(report: Report, level: Verdict['level'], errors: readonly Finding[], warnings: readonly Finding[], arePresent: boolean): string {
  const cells = report.table?.proposal?.cells.length ?? 0;
  const proven = `${cells} cell${cells === 1 ? ' is' : 's are'} proven to be off`;
  const first = [...errors, ...warnings].some(({ code }) => code === 'lean-under-load' || code === 'fuel-pressure-drop') ? 'fuel pressure has been checked under load' : 'the cause has been found';
  if (!arePresent) return 'The fuel table was changed after these drives: drive again on a closed course or a dynamometer, with the log running, before the change is trusted.';
  switch (level) {
    case 'stop': return `No more full throttle until ${cells > 0 ? `${first}, the fuel table is corrected in small steps (${proven}) and` : `${first} and`} a new drive has shown that it worked.`;
    case 'look': return `Before the next full throttle, see that ${cells > 0 ? `${first} and the fuel table is corrected in small steps (${proven}); a new drive should show that it worked` : first}.`;
    case 'clear': return cells > 0 ? `What is left is fine work: ${proven}; correct them in small steps and let a new drive show that it worked.` : 'Nothing has to be changed for what was driven; what was not driven is not known.';
    case 'unknown': return 'Record full-throttle pulls with engine speed, manifold pressure and a wideband sensor ahead of the catalyst, on a closed course or a dynamometer, and look again.';
  }
}

/** Each kind once, in the words of a customer. */
const spoken = (findings: readonly Finding[], words: Readonly<Partial<Record<FindingCode, string>>>): string[] => [...new Set(findings.flatMap(({ code }) => words[code] ?? []))];

export const joined = (parts: readonly string[]): string => (parts.length <= 1 ? parts.join('') : `${parts.slice(0, -1).join(', ')} and ${parts[parts.length - 1]}`);

function details({ table, changes }: Report, sessions: readonly SessionReport[]): string[] {
  const lines: string[] = [];
  const worst = worstPull(sessions);
  if (worst) {
    const { pull: { number, pull, worstS } } = worst;
    lines.push(`Leanest of all pulls: λ ${pull.worstLambda!.toFixed(2)} for a target of ${pull.worstTargetLambda!.toFixed(2)}${worstS === undefined ? '' : ` at ${worstS.toFixed(1)} s`}, pull ${number} of ${worst.session.file}.`);
  }
  if (table?.evidence) {
    const count = (proof: string): number => table.evidence!.cells.filter((cell) => cell.proof === proof).length;
    lines.push(`${table.file}: ${count('firm')} of ${table.evidence.cells.length} cells proven, ${count('thin')} with thin evidence, ${count('none')} never driven.`);
    const cells = table.proposal?.cells ?? [];
    if (cells.length > 0) {
      const percents = cells.map(({ percent }) => percent);
      lines.push(`Proposed: ${cells.length} cells, ${signed(Math.min(...percents))} to ${signed(Math.max(...percents))} %, no further than proven and no more than ${table.maxChangePercent} % in one step.`);
    }
  }
  for (const { comparison } of changes) if (comparison) lines.push(comparison.verdict);
  return lines;
}

export const signed = (value: number, digits = 1): string => `${value >= 0 ? '+' : '−'}${Math.abs(value).toFixed(digits)}`;
