// cell-rich: the sessions prove that a cell of the fuel table holds too much fuel.

import { limitOf } from '../../formats/limits.js';
import { causeTold, dataOf, isUnderLoad, judged, measuredText, shareText, worstMoments } from '../cellEvidence.js';
import { TOO_FAR_WORDS, type Held } from '../../fueling/doubts/gate.js';
import { cellPlace } from '../cellPlace.js';
import type { Finding, Rule, Severity, TableSubject } from '../finding.js';
import { sampleCells } from '../sampleCells.js';
import { limitWords } from '../spell.js';

const thenWords = (held: Held | undefined): string =>
  held === 'too-far' || held === 'far-beside'
    ? `: ${held === 'too-far' ? '' : 'other cells hold far more, and '}${TOO_FAR_WORDS}.`
    : held === 'trim-unread'
      ? '. A column that nobody named looks like a fuel trim and may hold the mixture here: say under "channels" in vehicle.json what it is before any fuel is taken out.'
      : held === 'scale'
        ? ", then on which scale the target table, the sensor's display and the tune count: no fuel comes out before that is known."
        : held === 'loop-apart'
          ? ", and find out whether this gauge or the computer's own sensor is right, before the table."
          : held === 'session-drifts'
            ? ', then find out what changed on the way, before the table: the session contradicts itself here.'
            : held === 'speed-off'
              ? ', then mend the scale of the engine speed in this log, before the table.'
              : held === 'trims-turned'
                ? ', then turn the sign of the fuel trims in this log, before the table.'
                : held === 'air-dead'
                  ? ', then mend the intake air temperature sensor, by which the computer reckons this fuel, and log again before the table.'
                  : held === 'gauges-apart'
                    ? ', and find out which of the two lambda gauges is right, before the table.'
                    : held === 'open-loop-trim'
                      ? ', and find out whether the computer counts its long-term trim at full load: many show it there and do without it, and no fuel comes out before that is known.'
                      : held === 'banks-differ'
                        ? ', and find out why one bank wants other fuel than the other, before the table.'
                        : held === 'shared-cause'
                          ? ', then look for the cause that it shares with the other cells, before the table.'
                          : ', then correct in small steps and log again.';

function* richCells(subject: TableSubject): Iterable<Finding> {
  const evidence = judged(subject);
  if (!evidence) return;
  const set = subject.vehicle?.vehicle.limits ?? {};
  const [under, washing, note] = [limitOf('richUnderLoad', set), limitOf('richLambda', set), limitOf('cellNotePercent', set)];
  const width = subject.table.columns.values.length;
  for (const cell of evidence.cells) {
    if (
      cell.proof !== 'firm' ||
      evidence.held?.get(cell.row * width + cell.column)?.startsWith('target') ||
      !(cell.factorHigh < 1) ||
      !(cell.factor < 1 - note.value / 100)
    )
      continue;
    const loaded = isUnderLoad(subject, cell.row, cell.column, cell);
    const washes = cell.measuredLambda < washing.value;
    const far = loaded && cell.targetLambda * (1 - cell.factor) >= under.value;
    const severity: Severity = washes || far ? 'warning' : 'information';
    yield {
      code: 'cell-rich',
      severity,
      range: subject.table.cellRange(cell.row, cell.column),
      message:
        `Too much fuel${loaded ? ' under load' : ''}: ${cellPlace(subject.table, cell.row, cell.column)} needs ${shareText(cell)} less; ${measuredText(cell)} (${limitWords(washes ? washing : far ? under : note)}). ` +
        (washes ? 'So much fuel washes the cylinder walls. ' : '') +
        `Check the sensor and the fuel it is read for${thenWords(evidence.held?.get(cell.row * width + cell.column))}`,
      data: dataOf(cell),
      related: worstMoments(evidence, cell),
    };
  }
}

export const rule: Rule = {
  code: 'cell-rich',
  concerns: 'engine',
  docs: {
    title: 'Cell with too much fuel',
    meaning:
      'The readings prove that the cell asks for more fuel than its target needs. It costs power and fuel; far enough it washes oil off the cylinder walls and fouls plugs.',
    computed:
      'The factor and its 95 % interval are found as for `cell-lean`. A cell is told where its proof is firm, the whole interval lies below 1 and it holds more than `cellNotePercent` too much: for information, or as a warning where the surplus under load is `richUnderLoad` in lambda or the lambda measured is below `richLambda`. Not told where the target that it is held to is itself too lean for the load (`target-unsafe`): no fuel may come out toward that. No correction is made of more than `cellFarPercent`; and where a quarter of the cells proven to hold too much are off by that, no fuel is taken out of the others either.',
    causes: [
      'A table not yet made for this hardware',
      'Fuel pressure above what the injectors are rated at',
      'An AFR column read for another fuel',
      'A lambda sensor that is old or poisoned',
    ],
    checkFirst: 'That lambda is read for the fuel in the tank, before the table.',
    limits: [
      'cellNotePercent',
      'cellFarPercent',
      'sharedCausePercent',
      'richUnderLoad',
      'richLambda',
      'loadManifoldPressureKPa',
      'loadThrottlePercent',
    ],
  },
  sample: () => ({ firing: sampleCells(0.9), quiet: sampleCells(1) }),
  table: (subject) => causeTold(subject, [...richCells(subject)]),
};
