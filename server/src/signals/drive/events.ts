// The moments of a drive: engine off, cranking, warm-up, idle, cruise, pull, overrun, tip-in, gear shift, from whatever channels there are.
// Thresholds are common practice, no source, unless said.

import { limitOf } from '../../formats/limits.js';
import { delaySeries } from '../mixture/delay.js';
import { above, atLeast, below, drop, fromTo, keep, mark, upTo } from '../columns/marks.js';
import { pullSpans } from './fullLoad.js';
import { isFedElsewhere } from '../faults/stillWhileDriven.js';
import { openingOf, type Opening } from './opening.js';
import type { Readings } from '../readings.js';
import type { Event, EventKind, Signals, Span } from '../signals.js';
import { lastsS, ratePerS, spansOf } from '../columns/spans.js';
import { extremes, greatestOf, quantileOf, sampleOf } from '../columns/statistics.js';
import { rangeOfColumn } from '../columns/stretches.js';

const OFF_BELOW_RPM = 30;
const RUNNING_FROM_RPM = 420;
/** Opening (percent of the log's own range) under which the throttle counts as closed. */
const CLOSED_PERCENT = 4;
/** Share of the barometer (of the greatest load) that a manifold stands at in idle at most. */
const IDLE_AIR_SHARE = 0.5;
const TIP_IN_PERCENT_PER_S = 60;
const TIP_IN_LEAST_PERCENT = 10;
/** A car that rolls no longer idles. */
const ROLLS_FROM_KMH = 4;
/** Cruise: so fast, or so far above idle, and so steady. */
const CRUISE_FROM_KMH = 15,
  CRUISE_ABOVE_IDLE_RPM = 300,
  CRUISE_PERCENT_PER_S = 25,
  CRUISE_RPM_PER_S = 300;
const SHIFT_LEAST_DROP = 0.12,
  SHIFT_RPM_PER_S = 700,
  SHIFT_FROM_RPM = 1000;
const SHIFT_LONGEST_S = 1.5;
const OPENED_AGAIN_PERCENT = 12;
/** Where the manifold or the load stands in for a foot: an engine that is let roll in gear draws up to a third. */
const LIGHT_BY_AIR_PERCENT = 40;
/** Pulse width (ms) or duty (%) of an injector that does not open. */
const INJECTORS_SHUT = 0.05;
/** Leaner than an engine burns: the exhaust holds air. */
const AIR_LAMBDA = 1.25,
  BURNS_LAMBDA = 1.08;
/** Longer than the last of a mixture takes to pass the sensor. */
const BURNS_ON_S = 2,
  LIVES_CHANGES = 4;
/** A fuel cut may last down to so much above idle (common practice, no source). */
const ROLLING_ABOVE_IDLE_RPM = 150;

/** Speed the engine idles at, warm: the middle of the slow quarter of its running samples. 850 rpm where it never idles. */
const idleRpmOf = (rpm: Float64Array | undefined, closed: Uint8Array | undefined): number => {
  if (!rpm) return 850;
  const running = closed ? keep(closed.slice(), rpm, atLeast(RUNNING_FROM_RPM)) : mark(rpm, atLeast(RUNNING_FROM_RPM));
  const sample = sampleOf(rpm, 0, rpm.length, keep(running, rpm, upTo(1500)));
  return sample.length < 10 ? 850 : quantileOf(sample, 0.3);
};

/** All events, by start; `between` is called between the kinds. */
export const eventsOf = (readings: Readings, between = (): void => undefined): Event[] => {
  const { timeS, recordings } = readings;
  const count = timeS.length;
  // Of a long session few columns are held at a time: what is asked once is asked where it is needed.
  const rpm = readings.clean('engine-speed');
  const opening = openingOf(readings);
  const events: Event[] = [];
  const add = (kind: EventKind, spans: readonly Span[]): void => {
    for (const span of spans) events.push({ kind, from: span.from, to: span.to });
  };
  const spans = (mask: Uint8Array, leastS: number, bridgeS = 0): Span[] => spansOf(mask, timeS, { leastS, bridgeS, recordings });

  const running = rpm ? mark(rpm, atLeast(RUNNING_FROM_RPM)) : new Uint8Array(count).fill(1);
  if (rpm && running.includes(0)) {
    add('engine-off', spans(mark(rpm, below(OFF_BELOW_RPM)), 0.5, 0.3));
    add('cranking', spans(mark(rpm, fromTo(OFF_BELOW_RPM, RUNNING_FROM_RPM)), 0));
  }
  add('warm-up', warmUpSpans(readings, running));

  between();
  const closed = keep(running.slice(), opening.percent, upTo(CLOSED_PERCENT));
  const idleRpm = idleRpmOf(rpm, opening.from === 'none' || opening.from === 'manifold-pressure' ? undefined : closed);
  const overrun = overrunSpans(readings, { rpm, running, closed, opening, idleRpm });
  add('overrun', overrun);
  between();
  // What drives on: neither cut off nor pulled.
  const driven = running.slice();
  for (const span of overrun) driven.fill(0, span.from, span.to);

  if (rpm) {
    const slow = keep(driven.slice(), rpm, below(idleRpm + limitOf('idleBandRpm', readings.vehicle.limits).value));
    // Where the manifold or the load stands in for the throttle, overrun lies below idle: an idling engine draws up to half of the air.
    if (opening.from === 'manifold-pressure')
      keep(slow, readings.clean('manifold-pressure')!, upTo(IDLE_AIR_SHARE * readings.barometer.kPa));
    else if (opening.from !== 'none')
      keep(slow, opening.percent, upTo(opening.from === 'engine-load' ? 100 * IDLE_AIR_SHARE : 3 * CLOSED_PERCENT));
    const speed = readings.clean('vehicle-speed');
    add('idle', spans(speed ? drop(slow, speed, above(ROLLS_FROM_KMH)) : slow, 1, 0.3));
  }

  between();
  const pulls = pullSpans(readings, { rpm, pressure: readings.clean('manifold-pressure') });
  between();
  add('pull', pulls);
  for (const span of pulls) driven.fill(0, span.from, span.to);

  if (opening.from !== 'none') {
    const speed = readings.clean('vehicle-speed'),
      { percent } = opening;
    const rates = ratePerS(percent, timeS, 0.2, running),
      steady = keep(driven, percent, above(CLOSED_PERCENT));
    keep(keep(steady, rates, above(-CRUISE_PERCENT_PER_S)), rates, below(CRUISE_PERCENT_PER_S));
    add(
      'tip-in',
      spans(keep(running.slice(), rates, above(TIP_IN_PERCENT_PER_S)), 0, 0.15).filter((span) => {
        const [low, high] = extremes(percent, span.from, span.to);
        return high - low >= TIP_IN_LEAST_PERCENT;
      }),
    );
    if (speed) drop(steady, speed, below(CRUISE_FROM_KMH));
    else if (rpm) drop(steady, rpm, below(idleRpm + CRUISE_ABOVE_IDLE_RPM));
    if (rpm) {
      const turns = ratePerS(rpm, timeS, 0.5, steady);
      drop(drop(steady, turns, above(CRUISE_RPM_PER_S)), turns, below(-CRUISE_RPM_PER_S));
    }
    add('cruise', spans(steady, 2, 0.3));
    between();
    if (rpm) add('gear-shift', shiftSpans(readings, rpm, percent, speed));
    between();
  }
  return events.sort(byStartThenLonger);
};

const byStartThenLonger = (one: Span, other: Span): number => one.from - other.from || other.to - one.to;

const warmUpSpans = (readings: Readings, running: Uint8Array): Span[] => {
  const coolant = readings.clean('coolant-temperature'),
    { timeS, recordings } = readings;
  if (!coolant) return [];
  const warmC = limitOf('warmCoolantC', readings.vehicle.limits).value;
  return spansOf(keep(running.slice(), coolant, below(warmC)), timeS, { leastS: 2, bridgeS: 5, recordings });
};

/** 1 where the injectors do not open. */
const markShut = (readings: Readings, count: number): Uint8Array => {
  const { timeS, recordings } = readings,
    mask = new Uint8Array(count);
  for (const quantity of ['injector-pulse-width', 'injector-duty'] as const) {
    const values = readings.clean(quantity);
    // Of one that was asked for and never answered nothing is told.
    if (!values || !(rangeOfColumn(values).greatest > INJECTORS_SHUT)) continue;
    // Nor of the second stage, the port injectors of two kinds, or those of petrol on gas: the engine burns without them.
    if (!spansOf(mark(values, upTo(INJECTORS_SHUT)), timeS, { recordings }).some((shut) => isFedElsewhere(readings, shut)))
      mark(values, upTo(INJECTORS_SHUT), mask);
  }
  return mask;
};

interface Driven {
  readonly rpm?: Float64Array;
  readonly running: Uint8Array;
  readonly closed: Uint8Array;
  readonly opening: Opening;
  readonly idleRpm: number;
}

/** Where the fuel may be cut, and whether a flag says so, or injectors that do not open (marked). */
interface MayBeCut {
  readonly spans: Span[];
  readonly flagTells: boolean;
  readonly injectorsShut: Uint8Array | undefined;
}

const banksOf = (readings: Readings): Float64Array[] =>
  [readings.held('lambda'), readings.held('lambda-2')].filter((bank) => bank !== undefined);

/** A function of its own, so that its columns are held no longer. */
const mayBeCut = (readings: Readings, state: Driven): MayBeCut => {
  const { timeS, recordings, barometer } = readings;
  const { rpm, running, closed, opening, idleRpm } = state,
    pressure = readings.clean('manifold-pressure');
  const count = timeS.length;
  const flag = readings.clean('fuel-cut'),
    flagged = flag && mark(flag, above(0.5)),
    injectorsShut = markShut(readings, count);
  const flagTells = flagged?.includes(1) ?? false,
    injectorsTell = injectorsShut.includes(1);
  // Injectors that stay shut at a light foot while the engine turns are a cut at any speed.
  const byFoot = opening.from === 'throttle' || opening.from === 'pedal',
    lightPercent = byFoot ? OPENED_AGAIN_PERCENT : LIGHT_BY_AIR_PERCENT;
  const mask = injectorsTell ? drop(injectorsShut.slice(), opening.percent, above(lightPercent)) : new Uint8Array(count);
  if (flag && flagTells) mark(flag, above(0.5), mask);
  if (rpm && (flagTells || injectorsTell)) keep(mask, rpm, atLeast(RUNNING_FROM_RPM));
  const overrunFromRpm = idleRpm + limitOf('overrunAboveIdleRpm', readings.vehicle.limits).value;
  const deepKPa = Math.min(35, 0.35 * barometer.kPa);
  // Where a throttle is logged, vacuum alone speaks only if it is deeper than any cruise's and lambda can confirm it.
  const lambdaTells = readings.channel('lambda') !== undefined;
  const vacuumKPa = byFoot ? (lambdaTells ? 0.7 * deepKPa : 0) : deepKPa;
  const banks = banksOf(readings),
    [one, other = one] = banks;
  // A flag that is asked for only now and then misses short cuts: two sensors in air at a closed throttle outvote it.
  if (!flagTells || banks.length > 1)
    for (let i = 0; i < count; i++) {
      if (running[i] === 0 || mask[i] === 1) continue;
      const shut = closed[i] === 1,
        vacuum = pressure !== undefined && pressure[i] < vacuumKPa;
      if (!shut && !vacuum) continue;
      const fast = rpm === undefined || rpm[i] > overrunFromRpm;
      // Exhaust that is all air tells of a cut at any speed at which the car may roll, but not beside a bank that burns.
      const aired =
        banks.length > 0 &&
        one[i] > AIR_LAMBDA &&
        other[i] > AIR_LAMBDA &&
        (banks.length > 1 || vacuum || (rpm !== undefined && rpm[i] > idleRpm + ROLLING_ABOVE_IDLE_RPM));
      const sucked = vacuum && !(byFoot && banks.length > 1 && (one[i] < BURNS_LAMBDA || other[i] < BURNS_LAMBDA));
      if (aired || (!flagTells && fast && (shut || sucked))) mask[i] = 1;
    }
  const spans = spansOf(mask, timeS, { recordings, leastS: flagTells ? 0 : 0.15, bridgeS: flagTells ? 0 : 0.1 });
  return { spans, flagTells, injectorsShut: injectorsTell ? injectorsShut : undefined };
};

/**
 * Fuel cut: the flag where it is logged (or injectors that do not open); else closed throttle (or deep vacuum) well above idle
 * speed and, where lambda is logged, a reading that leaves for the sensor's lean end within the transport delay.
 */
const overrunSpans = (readings: Readings, state: Driven): Span[] => {
  const { timeS } = readings,
    { spans, flagTells, injectorsShut } = mayBeCut(readings, state);
  if (flagTells) return spans;
  const delayS = readings.channel('lambda') || readings.channel('lambda-2') ? delaySeries(readings) : undefined,
    banks = banksOf(readings),
    count = timeS.length;
  return spans.filter((span) => {
    // A cut feeds air to both banks: one that burns on, and lives, while the other shows air says that there was none.
    if (banks.length > 1 && lastsS(span, timeS) > BURNS_ON_S && banks.some((bank, k) => burnsOn(bank, airedPart(banks[1 - k], span))))
      return false;
    if (injectorsShut?.subarray(span.from, span.to).includes(1)) return true;
    if (!delayS) return lastsS(span, timeS) >= 0.5;
    const untilS = timeS[span.to - 1] + 2 * delayS[span.to - 1] + 0.3;
    let highest = -Infinity;
    for (const bank of banks) for (let i = span.from; i < count && timeS[i] <= untilS; i++) if (bank[i] > highest) highest = bank[i];
    return highest > 1.15 || highest === -Infinity;
  });
};

/** From the first to the last reading of air in a span; the span itself where there is none. */
const airedPart = (bank: Float64Array, { from, to }: Span): Span => {
  let first = from,
    last = to;
  while (first < to && !(bank[first] > AIR_LAMBDA)) first++;
  if (first === to) return { from, to };
  while (!(bank[last - 1] > AIR_LAMBDA)) last--;
  return { from: first, to: last };
};

/** Whether a bank shows a living mixture throughout. */
const burnsOn = (bank: Float64Array, { from, to }: Span): boolean => {
  let changes = 0;
  for (let i = from + 1; i < to; i++) if (bank[i] !== bank[i - 1]) changes++;
  return changes >= LIVES_CHANGES && greatestOf(bank, from, to) < BURNS_LAMBDA;
};

/**
 * Engine speed that falls by an eighth or more within a second and a half while the car keeps its speed, the throttle lifted meanwhile or
 * held.
 */
const shiftSpans = (readings: Readings, rpm: Float64Array, opening: Float64Array, speed: Float64Array | undefined): Span[] => {
  const { timeS, recordings } = readings;
  const falling = mark(rpm, above(SHIFT_FROM_RPM));
  keep(falling, ratePerS(rpm, timeS, 0.3, falling), below(-SHIFT_RPM_PER_S));
  const shifts: Span[] = [];
  for (const span of spansOf(falling, timeS, { recordings, bridgeS: 0.25 })) {
    const before = rpm[Math.max(0, span.from - 1)],
      after = rpm[Math.min(rpm.length - 1, span.to)];
    if (!(before - after >= SHIFT_LEAST_DROP * before) || lastsS(span, timeS) > SHIFT_LONGEST_S) continue;
    if (speed) {
      const was = speed[span.from],
        is = speed[Math.min(span.to, speed.length - 1)];
      if (!(was > 8 && Math.abs(is - was) < 0.12 * was + 4)) continue;
    }
    // The throttle is opened again soon after, by half of what it was at a light foot: else it is only lifting off.
    let wasOpen = 0,
      openedAgain = false;
    for (let i = span.from; i >= 0 && timeS[i] >= timeS[span.from] - 1; i--) if (opening[i] > wasOpen) wasOpen = opening[i];
    const opensFrom = Math.min(OPENED_AGAIN_PERCENT, Math.max(CLOSED_PERCENT, wasOpen / 2));
    for (let i = span.from; i < rpm.length && timeS[i] <= timeS[span.to - 1] + 1; i++)
      if (opening[i] > opensFrom && timeS[i] >= timeS[span.to - 1] - 0.1) openedAgain = true;
    if (openedAgain) shifts.push(span);
  }
  return shifts;
};

/** 1 while an event of the kind lasts. */
export const maskOf = (signals: Pick<Signals, 'events' | 'timeS'>, kind: EventKind): Uint8Array => {
  const mask = new Uint8Array(signals.timeS.length);
  for (const event of signals.events) if (event.kind === kind) mask.fill(1, event.from, event.to);
  return mask;
};
