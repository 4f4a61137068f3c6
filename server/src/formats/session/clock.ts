// Which column is the session's clock, how its cells are written, and what they are in seconds.

import type { ColumnPlan } from './describe.js';
import { UNITS, type Unit } from '../../quantities/units.js';
import { isNumberText, type Layout } from './header.js';
import { timeRank } from './channelNames.js';
import { isoOf, readClock, readIso, type TimeForm } from './time.js';

const encoder = new TextEncoder();

export interface Clock {
  readonly column: number;
  readonly form: TimeForm;
  readonly plan: ColumnPlan;
}

/** How the texts of a time column are written; undefined where none of them is a time. */
export const timeFormOf = (texts: readonly string[]): TimeForm | undefined => {
  const forms = texts
    .filter((text) => text !== '')
    .map((text): TimeForm | undefined => {
      const bytes = encoder.encode(text);
      if (isNumberText(text)) return 'number';
      if (readIso(bytes, 0, bytes.length) === readIso(bytes, 0, bytes.length)) return 'iso';
      return readClock(bytes, 0, bytes.length) === readClock(bytes, 0, bytes.length) ? 'clock' : undefined;
    });
  // A clock may begin as plain seconds (`59.9`, then `1:00.0`).
  return forms.find((form) => form === 'iso') ?? forms.find((form) => form === 'clock') ?? forms.find((form) => form === 'number');
};

/** The column that is the session's clock: the best named one whose first cells are times. */
export const chooseClock = (plans: readonly ColumnPlan[], layout: Layout): Clock | undefined => {
  const rank = (plan: ColumnPlan): number =>
    plan.quantityFrom === 'vehicle' ? -1 : timeRank(plan.name, plan.quantityFrom === 'guess' ? 'guess' : 'name');
  const candidates = plans.filter((plan) => plan.quantity === 'time').sort((a, b) => rank(a) - rank(b));
  const dated = plans.filter((plan) => /^date$/i.test(plan.name));
  for (const plan of [...candidates, ...dated]) {
    const form = timeFormOf(layout.firstRows.map((row) => row[plan.column] ?? ''));
    if (form !== undefined && (plan.quantity === 'time' || form === 'iso')) return { column: plan.column, form, plan };
  }
  const [only] = candidates;
  return only && layout.firstRows.length === 0 ? { column: only.column, form: 'number', plan: only } : undefined;
};

/** A count of seconds since 1970 is in this range from 2001 to 2128; milliseconds and microseconds are told from it by their size. */
const EPOCH_S = [1e9, 5e9] as const;

const epochUnit = (value: number): Unit | undefined =>
  [UNITS.s, UNITS.ms, UNITS.us].find((unit) => value * (unit.factor ?? 1) >= EPOCH_S[0] && value * (unit.factor ?? 1) <= EPOCH_S[1]);

/**
 * Where whole numbers step by this much and no unit is named, they are milliseconds: a log of a row every ten seconds shows nothing of an
 * engine.
 */
const MILLISECOND_STEP = 10;

const looksLikeMilliseconds = (values: Float64Array): boolean => {
  const steps: number[] = [];
  for (let sample = 1; sample < Math.min(values.length, 1000); sample++) {
    if (values[sample] % 1 !== 0) return false;
    if (values[sample] > values[sample - 1]) steps.push(values[sample] - values[sample - 1]);
  }
  steps.sort((a, b) => a - b);
  return steps.length >= 3 && steps[steps.length >> 1] >= MILLISECOND_STEP;
};

/** Days of a spreadsheet's dates from 2000 to 2100 (ISO/IEC 29500-1, 18.17.4: days since the end of 1899). */
const SPREADSHEET_DAYS = [36526, 73051] as const;
/**
 * No log has a row each fifth of a millisecond; in days that is one each 17 s. Of a day's fraction alone, without a date, more is asked: a
 * row each second.
 */
const LONGEST_DAY_STEP = 2e-4,
  LONGEST_FRACTION_STEP = 1.2e-5;

/** A moment as a spreadsheet keeps it: days, with the time of day behind the point. */
const looksLikeDays = (values: Float64Array, start: number): boolean => {
  const isDated = start >= SPREADSHEET_DAYS[0] && start <= SPREADSHEET_DAYS[1];
  if (!isDated && !(start >= 0 && start < 1)) return false;
  const steps: number[] = [];
  for (let sample = 1; sample < Math.min(values.length, 1000); sample++) {
    if (!(Math.abs(values[sample] - start) < 2) && values[sample] === values[sample]) return false;
    if (values[sample] > values[sample - 1]) steps.push(values[sample] - values[sample - 1]);
  }
  steps.sort((a, b) => a - b);
  return steps.length >= 3 && steps[steps.length >> 1] <= (isDated ? LONGEST_DAY_STEP : LONGEST_FRACTION_STEP);
};

/** Written clock values as seconds (in place), the plan with the unit they turned out to be in, and the start where they carry a date. */
export const clockSeconds = (values: Float64Array, clock: Clock): { readonly plan: ColumnPlan; readonly startIso: string | undefined } => {
  const start = values.find((value) => value === value) ?? NaN;
  if (clock.form !== 'number')
    return {
      plan: { ...clock.plan, unit: UNITS.s, unitFrom: 'header', unitTrouble: 'none' },
      startIso: clock.form === 'iso' ? isoOf(start) : undefined,
    };
  const { scale } = clock.plan;
  if (scale) for (let sample = 0; sample < values.length; sample++) values[sample] = values[sample] * scale.factor + scale.offset;
  let { unit } = clock.plan;
  let epoch: boolean;
  let sizeTold = false;
  if (clock.plan.unitFrom === 'assumed' || clock.plan.unit === undefined) {
    const byEpoch = epochUnit(start);
    epoch = sizeTold = byEpoch !== undefined;
    unit = byEpoch ?? (looksLikeMilliseconds(values) ? UNITS.ms : looksLikeDays(values, start) ? UNITS.d : UNITS.s);
  } else epoch = start * (unit?.factor ?? 1) >= EPOCH_S[0] && start * (unit?.factor ?? 1) <= EPOCH_S[1];
  const factor = unit?.factor ?? 1;
  // Dividing by the whole number keeps 20 ms at exactly what 0.02 reads as.
  const divisor = Math.round(1 / factor);
  if (factor < 1) for (let sample = 0; sample < values.length; sample++) values[sample] /= divisor;
  else if (factor > 1) for (let sample = 0; sample < values.length; sample++) values[sample] *= factor;
  return {
    plan: { ...clock.plan, unit, unitTrouble: sizeTold ? 'none' : clock.plan.unitTrouble },
    startIso: epoch ? isoOf(start * factor) : undefined,
  };
};
