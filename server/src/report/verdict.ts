// The verdict: is it safe, can the readings be believed, what is to be done. Three sentences for the customer, a list for the tuner.
// One rule decides it: an error anywhere, then what could not be judged, then a warning anywhere, then nothing.

import type { Finding } from '../findings/finding.js';
import { limitOf } from '../formats/limits.js';
import { ASSUMED_WORDS } from '../service/scope.js';
import { causePercent, commonCause, type CommonCause } from '../fueling/doubts/commonCause.js';
import type { PullReport, Report, SessionReport } from './model.js';
import {
  CAUSE_FIRST,
  faultWordsOf,
  firstOf,
  isApart,
  isCrossed,
  isMiss,
  isOfEngine,
  isOfTrims,
  isOilFall,
  isOverboost,
  mustComeFirst,
  READINGS,
  wordsOf,
} from './verdictWords.js';

export interface Verdict {
  readonly level: 'stop' | 'unknown' | 'look' | 'clear';
  /** One word or two, for those who read no further. */
  readonly headline: string;
  readonly sentences: readonly [safe: string, believe: string, next: string];
  readonly details: readonly string[];
}

/** The sessions that speak of the table as it is now; all of them where none does. */
export function speaking({ sessions, table }: Report): { readonly sessions: readonly SessionReport[]; readonly arePresent: boolean } {
  const present = table ? sessions.filter(({ loggedWith }) => loggedWith.isPresent) : sessions;
  return present.length > 0 ? { sessions: present, arePresent: true } : { sessions, arePresent: sessions.length === 0 };
}

const worstPull = (sessions: readonly SessionReport[]): { readonly session: SessionReport; readonly pull: PullReport } | undefined => {
  const over = ({ pull }: PullReport): number => pull.worstLambda! / pull.worstTargetLambda!;
  return sessions
    .flatMap((session) => session.pulls.filter((pull) => pull.lean !== undefined && isJudged(pull)).map((pull) => ({ session, pull })))
    .reduce<{ session: SessionReport; pull: PullReport } | undefined>(
      (best, each) => (!best || over(each.pull) > over(best.pull) ? each : best),
      undefined,
    );
};

/** What the verdict rests on. */
interface Grounds {
  readonly report: Report;
  readonly sessions: readonly SessionReport[];
  readonly arePresent: boolean;
  readonly pulls: number;
  /** Pulls in which the mixture was held against its target. */
  readonly judged: number;
  /** What the sessions are found to have and still stands. */
  readonly standing: readonly Finding[];
  readonly errors: readonly Finding[];
  readonly warnings: readonly Finding[];
  /** That no longer stand: mixtures of the table as it was before, where later drives tell of the present one. */
  readonly earlierErrors: number;
  /** Cells of the fuel table in which the sessions contradict each other. */
  readonly contradicted: number;
  /** Whether a session contradicts itself in a cell. */
  readonly drifts: boolean;
  /** What the proven cells of the fuel table have in common. */
  readonly cause: CommonCause | undefined;
  /**
   * Whether the banks read so far apart for a while that it was no evidence on the table: told by itself, and where no misfire tells it.
   * Not among the warnings.
   */
  readonly banksApart: boolean;
}

const isJudged = ({ pull }: PullReport): boolean => pull.worstLambda !== undefined && pull.worstTargetLambda !== undefined;

/** What a table makes of the mixture. */
const BY_TABLE: ReadonlySet<string> = new Set(['lean-under-load', 'rich-under-load']);

function groundsOf(report: Report): Grounds {
  const { sessions, arePresent } = speaking(report);
  const pulls = sessions.flatMap((session) => session.pulls),
    judged = pulls.filter(isJudged).length;
  // Once a drive has shown what the present table does, the mixtures of an earlier one are past; what no table mends stands.
  const isPast = (session: SessionReport, { code }: Finding): boolean => judged > 0 && !sessions.includes(session) && BY_TABLE.has(code);
  const ofSessions = (past: boolean): Finding[] =>
    report.sessions.flatMap((session) => session.findings.filter((finding) => isPast(session, finding) === past));
  const { contradiction, drift } = report.table?.evidence ?? {};
  // Told in words of its own.
  const isDisagreement = ({ code }: Finding): boolean => code === 'cell-unproven' && (contradiction ?? drift) !== undefined;
  const standing = ofSessions(false),
    found = [
      ...standing.filter((finding) => !isApart(finding)),
      ...[...(report.table ? [report.table] : []), ...report.otherFindings]
        .flatMap(({ findings }) => findings)
        .filter((finding) => !isDisagreement(finding)),
    ];
  const of = (severity: Finding['severity'], findings = found): Finding[] => findings.filter((finding) => finding.severity === severity);
  return {
    report,
    sessions,
    arePresent,
    pulls: pulls.length,
    judged,
    standing,
    errors: of('error'),
    warnings: of('warning'),
    earlierErrors: of('error', ofSessions(true)).length,
    contradicted: contradiction?.cells.size ?? 0,
    drifts: drift !== undefined,
    cause: causeIn(report),
    banksApart:
      standing.some(isApart) ||
      (!standing.some(isMiss) && report.table?.evidence?.sessions.some(({ leftOut }) => (leftOut['banks-apart'] ?? 0) > 0) === true),
  };
}

/**
 * Unless vehicle.json says that it is none: its cells are changed then all the same. Banks that differ are held cell by cell, whatever it
 * says.
 */
function causeIn({ table, vehicle: { limits } }: Report): CommonCause | undefined {
  const cause = table?.evidence && commonCause(table.table, table.evidence);
  return cause && (cause.kind === 'banks' || causePercent(cause) >= limitOf('sharedCausePercent', limits).value) ? cause : undefined;
}

export function verdictOf(report: Report): Verdict {
  const grounds = groundsOf(report),
    { errors, warnings, judged, pulls, contradicted, drifts, banksApart } = grounds;
  const level =
    errors.length > 0
      ? 'stop'
      : judged === 0
        ? 'unknown'
        : warnings.length > 0 || contradicted > 0 || drifts || banksApart
          ? 'look'
          : 'clear';
  const HEADLINES: Readonly<Record<Verdict['level'], string>> = {
    stop: errors.some(isOfEngine) ? 'Not safe at full throttle' : 'Not cleared for full throttle',
    unknown: 'Cannot be judged',
    look: warnings.some(isOfEngine)
      ? 'Needs a look before the next full throttle'
      : 'Nothing unsafe was seen, but what was read needs a look',
    clear: judged < pulls ? 'Nothing unsafe was seen where it could be judged' : 'Nothing unsafe was seen',
  };
  return {
    level,
    headline: HEADLINES[level],
    sentences: [safeSentence(level, grounds), believeSentence(grounds), nextSentence(level, grounds)],
    details: details(grounds),
  };
}

function safeSentence(level: Verdict['level'], grounds: Grounds): string {
  const { sessions, arePresent, judged, pulls, errors, warnings, contradicted, drifts, banksApart } = grounds;
  const when = arePresent ? '' : ' (as it was set then)';
  const notJudged = [...new Set(sessions.flatMap(({ scope }) => scope?.notJudged.map(([title]) => title) ?? []))];
  const engine = errors.filter(isOfEngine),
    seen = warnings.filter(isOfEngine);
  const besides = [
    ...new Set(
      seen.filter(({ code }) => !engine.some((error) => error.code === code || (LEAN.has(error.code) && LEAN.has(code)))).map(wordsOf),
    ),
  ].filter((words) => !engine.some((error) => wordsOf(error) === words));
  const got = `In ${judged < pulls ? `${judged} of ${pulls}` : `all ${pulls}`} full-throttle pulls${judged < pulls ? ' (the others could not be judged)' : ''} the engine got the fuel that it was meant to get${when}`;
  switch (level) {
    case 'stop':
      return engine.length > 0
        ? `The engine is not safe at full throttle${when}: ${joined(tell(engine, 'error', grounds))}.${besides.length > 0 ? ` Besides, ${joined(besides)}.` : ''}`
        : `Whether the engine is safe at full throttle is not known: ${joined(tell(errors, 'error', grounds))}.${judged === 0 ? ` ${unknownWords(grounds)}` : ''}`;
    case 'unknown':
      return `${unknownWords(grounds)}${warnings.length > 0 ? ` What was seen: ${joined(tell(warnings, 'warning', grounds))}.` : ''}`;
    case 'look':
      return seen.length > 0
        ? `Nothing dangerous was seen${when}, but ${joined(tell(seen, 'warning', grounds))}.`
        : `${got}, but ${joined([...tell(warnings, 'warning', grounds), ...(contradicted > 0 ? [CONTRADICTED] : []), ...(drifts ? [DRIFTS] : []), ...(banksApart ? [APART] : [])])}.`;
    case 'clear':
      return `${got}, and nothing else unsafe was seen in what is judged${notJudged.length > 0 ? `; ${joined(notJudged)} ${notJudged.length > 1 ? 'were' : 'was'} logged and not judged` : ''}.`;
  }
}

function unknownWords({ report, sessions, pulls }: Grounds): string {
  const start = 'Nothing can be said of this engine';
  if (sessions.length === 0)
    return [
      `${start}: no session was found.`,
      ...report.otherFindings
        .flatMap(({ findings }) => findings)
        .filter(({ data }) => data?.kind === 'sessions-unlisted')
        .map(({ message }) => message),
    ].join(' ');
  if (pulls === 0) return `${start} at full throttle: the sessions hold no full-throttle pull.`;
  return sessions.some((session) => session.pulls.some(({ pull }) => pull.worstLambda !== undefined))
    ? `Whether this engine gets the fuel that it is meant to get is not known: no target is logged or named in vehicle.json, so its mixture was only held against ${ASSUMED_WORDS}.`
    : `${start} at full throttle: its mixture was not logged, or could not be believed, in any pull.`;
}

/** Each kind once, in the words of a customer, a cylinder that misses first: it is behind others; lean pulls with how many and how bad. */
function tell(findings: readonly Finding[], severity: 'error' | 'warning', { sessions, judged }: Grounds): string[] {
  const lean = sessions.flatMap((session) => session.pulls).filter((pull) => pull.lean === severity && isJudged(pull)).length;
  const worst = worstPull(sessions)?.pull;
  return [
    ...new Set(
      [...findings]
        .sort((a, b) => Number(isMiss(b)) - Number(isMiss(a)))
        .map((finding) =>
          finding.code === 'lean-under-load' && lean > 0 && worst
            ? `in ${lean} of ${judged} full-throttle pulls the engine got too little fuel, at worst ${shortPercent(worst)}\u00a0% less than it was meant to get`
            : wordsOf(finding),
        ),
    ),
  ];
}

/** Share of the wanted fuel that was missing: the air being what it was, fuel goes with one over lambda. */
const shortPercent = ({ pull }: PullReport): string => (100 * (1 - pull.worstTargetLambda! / pull.worstLambda!)).toFixed(0);

/** What is read all the same, by an assumption. */
const TAKEN: ReadonlySet<string> = new Set(['unit-unknown']);

const CONTRADICTED = 'the sessions contradict each other on how much fuel the engine wants';
const DRIFTS = 'one part of a drive wants other fuel than another';
const APART = 'the banks of the engine read too far apart for one fuel table';
const WHY_APART = 'the reason is found why the banks read so far apart (a cylinder, an injector or a sensor)';
const WHAT_CHANGED =
  "the reason is found why the sessions contradict each other (the lambda sensor's calibration, fuel pressure and pump, the fuel, the air meter, or a log of another car)";

function believeSentence({ standing, contradicted, banksApart }: Grounds): string {
  const contradiction =
    contradicted > 0
      ? [
          `Yet ${CONTRADICTED}, in ${contradicted} cell${contradicted === 1 ? '' : 's'} of the table: some of them are wrong or of an engine in another state, and which the readings do not tell.`,
        ]
      : [];
  const sound =
    contradicted > 0
      ? "Each session's readings can be believed as far as it could be checked by itself."
      : 'The readings can be believed as far as they could be checked.';
  const faults = standing.filter(
    (finding) =>
      READINGS.has(finding.code) &&
      finding.severity !== 'hint' &&
      !isOverboost(finding) &&
      !isOilFall(finding) &&
      !isOfTrims(finding) &&
      !isCrossed(finding) &&
      !isApart(finding),
  );
  const missed = standing.some(isMiss)
    ? [
        'While a cylinder seemed to miss, they tell of its air and not of the mixture: nothing of the fuel table was concluded from those moments.',
      ]
    : [];
  const serious = faults.some(({ severity, code }) => severity === 'error' && code !== 'channel-clipped');
  const isTaken = ({ code, severity }: Finding): boolean => TAKEN.has(code) && severity !== 'error',
    doubted = faults.filter((finding) => !isTaken(finding)),
    taken = faults.filter(isTaken);
  const wordsFor = (findings: readonly Finding[]): string => joined([...new Set(findings.map(faultWordsOf))]);
  return [
    doubted.length > 0
      ? `${serious ? 'Some of the readings cannot be believed' : 'Most readings can be believed, not all'}: ${wordsFor(doubted)}; nothing was concluded from those moments.`
      : sound,
    ...missed,
    ...(taken.length > 0 ? [`Something was taken for granted: ${wordsFor(taken)}.`] : []),
    ...contradiction,
    ...(banksApart ? [`For a while ${APART}: what was read then is no word of the fuel table.`] : []),
  ].join(' ');
}

const RECORD =
  'Record full-throttle pulls with engine speed, manifold pressure, a wideband sensor ahead of the catalyst and its target (logged, or a table named in vehicle.json), on a closed course or a dynamometer, and look again.';
const CHANGED =
  'The fuel table was changed after these drives: drive again on a closed course or a dynamometer, with the log running, before the change is trusted.';

function nextSentence(level: Verdict['level'], grounds: Grounds): string {
  const { report, arePresent, errors, warnings, contradicted, drifts, banksApart, cause } = grounds;
  const { cells: changed = [], held = [] } = report.table?.proposal ?? {},
    cells = changed.length + held.filter(({ why }) => why === 'shared-cause').length,
    waits = tableWaits(grounds);
  const proven = `${cells} cell${cells === 1 ? ' is' : 's are'} proven to be off`;
  const correct = cells > 0 && arePresent && !waits ? [`the fuel table is corrected in small steps (${proven})`] : [];
  const left = cells > 0 && waits ? ' The fuel table stays as it is until then.' : '';
  const found = level === 'stop' ? [...errors, ...warnings.filter(mustComeFirst)] : warnings,
    first = [
      ...(cause && cells > 0 ? [CAUSE_FIRST[cause.kind]] : []),
      ...(found.length > 0 ? firstOf(found) : []),
      ...(contradicted > 0 ? [WHAT_CHANGED] : []),
      ...(drifts ? [`the reason is found why ${DRIFTS}`] : []),
      ...(banksApart ? [WHY_APART] : []),
    ];
  const look = `Before ${warnings.some(isOfEngine) ? 'the next full throttle' : 'this is relied on'}, see that ${joined([...first, ...correct])}${correct.length > 0 ? '; a new drive should show that it worked' : ''}.${left}`;
  if (!arePresent && !waits && level !== 'stop') return CHANGED;
  switch (level) {
    case 'stop':
      return `No more full throttle until ${joined([...first, ...correct, errors.some(isOfEngine) ? 'a new drive has shown that it worked' : 'this report has been made anew'])}.${left}${arePresent ? '' : ` ${CHANGED}`}`;
    case 'unknown':
      return first.length > 0 ? `${look} ${RECORD}` : RECORD;
    case 'look':
      return look;
    case 'clear':
      return cells > 0 && cause
        ? `What is left is fine work: ${proven}. Before they are corrected, see that ${CAUSE_FIRST[cause.kind]}.`
        : cells > 0
          ? `What is left is fine work: ${proven}; correct them in small steps and let a new drive show that it worked.`
          : 'Nothing has to be changed for what was driven; what was not driven is not known.';
  }
}

/**
 * Whether something else is put right before the fuel table: a cause that no table cures, readings or files that are wrong, or such as
 * contradict each other.
 */
const tableWaits = ({ errors, warnings, contradicted, drifts, banksApart, cause }: Grounds): boolean =>
  contradicted > 0 ||
  drifts ||
  banksApart ||
  cause !== undefined ||
  errors.some((finding) => mustComeFirst(finding) || !LEAN.has(finding.code)) ||
  warnings.some(mustComeFirst);
const LEAN: ReadonlySet<string> = new Set(['lean-under-load', 'cell-lean']);

export const joined = (parts: readonly string[]): string =>
  parts.length <= 1 ? parts.join('') : `${parts.slice(0, -1).join(', ')} and ${parts[parts.length - 1]}`;

function details(grounds: Grounds): string[] {
  const {
    report: { table, changes },
    sessions,
    earlierErrors,
  } = grounds;
  const lines: string[] = [];
  const worst = worstPull(sessions);
  if (worst) {
    const {
      pull: { number, pull, worstS, worstLine },
    } = worst;
    lines.push(
      `Leanest of all pulls: λ ${pull.worstLambda!.toFixed(2)} for a target of ${pull.worstTargetLambda!.toFixed(2)}${worstS === undefined ? '' : ` at ${worstS.toFixed(1)} s (line ${worstLine! + 1})`}, pull ${number} of ${worst.session.file}.`,
    );
  }
  if (table?.evidence) {
    const count = (proof: string): number => table.evidence!.cells.filter((cell) => cell.proof === proof).length;
    lines.push(
      `${table.file}: ${count('firm')} of ${table.evidence.cells.length} cells proven, ${count('thin')} with thin evidence, ${count('none')} never driven.`,
    );
    const cells = table.proposal?.cells ?? [];
    if (cells.length > 0) {
      const percents = cells.map(({ percent }) => percent);
      lines.push(
        `Proposed${tableWaits(grounds) ? ', not before the rest is put right' : ''}: ${cells.length} cells, ${signed(Math.min(...percents))} to ${signed(Math.max(...percents))} %, no further than proven and no more than ${table.maxChangePercent} % in one step.`,
      );
    }
  }
  if (earlierErrors > 0)
    lines.push(
      `With the table as it was before, ${earlierErrors} error${earlierErrors === 1 ? '' : 's'} of the mixture: see the worst moments.`,
    );
  for (const { comparison } of changes) if (comparison) lines.push(comparison.verdict);
  return lines;
}

export const signed = (value: number, digits = 1): string => `${value >= 0 ? '+' : '−'}${Math.abs(value).toFixed(digits)}`;
