// cell-lean: the sessions prove that a cell of the fuel table holds too little fuel.

import { limitOf } from '../../formats/limits.js';
import { formatNumber } from '../../quantities/format.js';
import { saidWords } from '../../fueling/doubts/contradictionWords.js';
import { causeTold, dataOf, isFarLean, isUnderLoad, judged, measuredText, seenLean, shareText, worstMoments } from '../cellEvidence.js';
import { TOO_FAR_WORDS, type Held } from '../../fueling/doubts/gate.js';
import { cellPlace } from '../cellPlace.js';
import type { Finding, Rule, Severity, TableSubject } from '../finding.js';
import { sampleCells } from '../sampleCells.js';
import { limitWords } from '../spell.js';

/** Under load less than this is not worth a word. Common practice, no source. */
const LEAST_SHARE = 0.015;

/** What comes after the checks. */
const NEXT_WORDS: Readonly<Record<Held, string>> = {
  'target-unsafe': 'mend the target that it is held to',
  'target-broken': 'mend the target that it is held to',
  'not-driven-since': 'log again with the value that it has now',
  'sessions-disagree': 'find out what changed between the sessions',
  'session-drifts': 'find out what changed on the way: the session contradicts itself here',
  'too-far': `find what is behind it: ${TOO_FAR_WORDS}`,
  scale: 'see on which scale the target table, the display and the tune count',
  'far-beside': `find what is behind the other cells: ${TOO_FAR_WORDS}`,
  'trims-turned': 'turn the sign of the fuel trims in this log',
  'open-loop-trim': 'find out whether the long-term trim counts at full load',
  'shared-cause': 'look for the cause that it shares with the other cells, before the table',
  'speed-off': 'mend the scale of the engine speed in this log',
  'air-dead': 'mend the intake air temperature sensor and log again',
  'loop-apart': "find out whether the gauge or the computer's own sensor is right",
  'gauges-apart': 'find out which of the two lambda gauges is right',
  'banks-differ': 'find out why one bank wants other fuel than the other, before the table',
  'trim-unread': 'say what the columns are that look like fuel trims ("channels" in vehicle.json)',
};
const nextWords = (held: Held | undefined): string => (held === undefined ? 'correct the cell' : NEXT_WORDS[held]);
const noteWords = (held: Held | undefined): string => (held ? `First ${NEXT_WORDS[held]}.` : 'Worth correcting with the next change.');

function* leanCells(subject: TableSubject): Iterable<Finding> {
  const evidence = judged(subject);
  if (!evidence) return;
  const set = subject.vehicle?.vehicle.limits ?? {};
  const [error, warning, note] = [limitOf('leanUnderLoad', set), limitOf('leanUnderLoadWarning', set), limitOf('cellNotePercent', set)];
  const width = subject.table.columns.values.length;
  for (const cell of evidence.cells) {
    if (cell.proof === 'none') continue;
    const at = cell.row * width + cell.column,
      loaded = isUnderLoad(subject, cell.row, cell.column, cell),
      seen = seenLean(subject, cell);
    const place = (): Pick<Finding, 'range' | 'data' | 'related'> => ({
      range: subject.table.cellRange(cell.row, cell.column),
      data: dataOf(cell),
      related: worstMoments(evidence, cell),
    });
    const said = evidence.contradiction?.cells.has(at) ? evidence.contradiction.said(at) : undefined;
    if (said) {
      const wanted = said.map(({ factor }) => cell.targetLambda * (factor - 1)),
        least = Math.min(...wanted),
        isAgreed = least >= warning.value;
      if (!loaded || !wanted.some((each) => each >= warning.value)) continue;
      const isError = seen?.isError || least >= error.value;
      const lean = seen
        ? ` With the table as it is now λ ${formatNumber(seen.moment.lambda, 2)} was read here for λ ${formatNumber(seen.moment.targetLambda, 2)}`
        : isAgreed
          ? ' Yet each of them wants more'
          : '';
      yield {
        code: 'cell-lean',
        severity: seen || isAgreed ? 'warning' : 'information',
        ...place(),
        message:
          `The sessions contradict each other under load at ${cellPlace(subject.table, cell.row, cell.column)}, fuel wanted: ${saidWords(evidence, at, fileName)}. Which of them is right the readings do not tell: find out what changed between them before the cell is changed.` +
          (lean === ''
            ? ''
            : `${lean} (${limitWords(isError ? error : warning)}): ${isError ? 'no more pulls here until fuel pressure and the sensor are checked' : 'check fuel pressure and the sensor before the next pull'}.`),
      };
      continue;
    }
    const isShort = cell.factorLow > 1 && cell.factor > 1 + LEAST_SHARE;
    const overLambda = cell.targetLambda * (cell.factor - 1);
    const firm = cell.proof === 'firm';
    const proven: Severity | undefined = !isShort
      ? undefined
      : loaded
        ? overLambda >= error.value
          ? firm
            ? 'error'
            : 'warning'
          : overLambda >= warning.value
            ? firm
              ? 'warning'
              : 'information'
            : firm
              ? 'information'
              : undefined
        : firm && cell.factor > 1 + note.value / 100
          ? 'information'
          : undefined;
    const severity = seen && proven !== 'error' ? 'warning' : proven;
    if (!severity) continue;
    const passed = !loaded
      ? note
      : seen?.isError || overLambda >= error.value
        ? error
        : seen || overLambda >= warning.value
          ? warning
          : undefined;
    const held = evidence.held?.get(at),
      stops = seen?.isError || isFarLean(subject, cell) || severity === 'error';
    const read =
      seen && (severity !== proven || stops)
        ? `; up to λ ${formatNumber(seen.moment.lambda, 2)} read here with the table as it is now`
        : '';
    yield {
      code: 'cell-lean',
      severity,
      ...place(),
      message:
        `Short of fuel${loaded ? ' under load' : ''}: ${cellPlace(subject.table, cell.row, cell.column)} needs ${shareText(cell)} more; ${measuredText(cell)}${read}${passed ? ` (${limitWords(passed)})` : ''}. ` +
        (severity === 'information' && !stops
          ? noteWords(held)
          : `${stops ? 'No more pulls here until fuel pressure and the sensor are checked: too little fuel under load can ruin an engine. Then' : 'Too little fuel under load can ruin an engine. Check fuel pressure and the sensor first, then'} ` +
            `${!firm ? 'log more here before the cell is changed' : nextWords(held)}.`),
    };
  }
}

/** A session as its file is called. */
const fileName = (session: string): string => {
  const last = session.slice(session.lastIndexOf('/') + 1);
  try {
    return decodeURIComponent(last);
  } catch {
    return last;
  }
};

export const rule: Rule = {
  code: 'cell-lean',
  concerns: 'engine',
  danger: true,
  docs: {
    title: 'Cell short of fuel',
    meaning:
      'The readings prove that the cell asks for less fuel than its target needs. At light load that is a note; under load too little fuel can ruin an engine within seconds. In closed loop the trims may hide it: lambda is on target and the cell is short all the same.',
    computed:
      'Each trusted reading is evidence on the four cells it was fuelled from, after the transport delay: the value logged with x measured / target lambda x (1 + short trim) x (1 + long trim). Least squares over all sessions, robust and smooth only as far as the readings do not say otherwise (a cell stands alone where that explains its own readings so much better that it outweighs how seldom one does), give the factor and its 95 % interval. ' +
      "A cell is told where the whole interval lies above 1. Under load (`loadManifoldPressureKPa`, or `loadThrottlePercent` on throttle axes) the missing fuel as lambda over target makes an error or a warning (`leanUnderLoad`, `leanUnderLoadWarning`) where the proof is firm, one step less where it is thin; where the whole interval lies beyond the warning's limit no more pulls are advised, thin or firm. Where a thin cell's interval reaches the warning's limit, readings at the cell with the table as it is now, a second or so of them, make a warning at least where their mean lies beyond it, and stop the pulls where it lies beyond `leanUnderLoad`. Where sessions contradict each other at a loaded cell, and one of them wants that much, the contradiction is told: as a warning where such readings, or each of the sessions, bear it out. Where nine in ten of the proven cells want about the same change of 2 % or more, or are right up to the air around the car and short above it as where one share of the boost is not seen, or fade from 4 % and more as one over the air flow (something leaks in at all times) or over the fuel of an injection (each is off by the same), or go as where the rail does not follow the manifold, or are those of an air meter's curve and further off the more air passes, the cause that they share is told with the worst of them, and what it makes them want is not corrected from `sharedCausePercent` on. Where lambda and trims of two banks are logged and one bank wants 6 % other fuel than the other, the cell is not corrected: one table feeds both, and half of that stays on each whatever it holds. A cell that is proven to want more than `cellFarPercent` is not corrected either; at light load firm cells more than `cellNotePercent` short are told for information.",
    causes: [
      'A table not yet made for this hardware',
      'Fuel pressure that falls with flow, or injectors at their end: every loaded cell is short by much the same',
      'A lambda sensor that reads lean: an exhaust leak before it, misfire',
      'Air that the table does not know of',
    ],
    checkFirst: 'Fuel pressure under load and the sensor, before the table.',
    limits: [
      'cellNotePercent',
      'cellFarPercent',
      'sharedCausePercent',
      'leanUnderLoad',
      'leanUnderLoadWarning',
      'loadManifoldPressureKPa',
      'loadThrottlePercent',
    ],
  },
  sample: () => ({ firing: sampleCells(1.09), quiet: sampleCells(1) }),
  table: (subject) => causeTold(subject, [...leanCells(subject)]),
};
