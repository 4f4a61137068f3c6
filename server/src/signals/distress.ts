// Where the engine or its fuel supply is at its end: the spells that knock, fuel pressure, duty and heat are told by, and that prove
// nothing of a table.

import { limitOf } from '../formats/limits.js';
import { droopsOf, type Droop } from './droop.js';
import { believed, operatingOf } from './drive/operating.js';
import { overLimit, type OverLimit } from './columns/overLimit.js';
import type { Signals } from './signals.js';
import { rangeOfColumn } from './columns/stretches.js';
import { columnsOf, mostHeld, worstOf, type Worst } from './columns/worstOf.js';

/** Spells over the warning's limit; from `error` on one is an error. */
interface Spells {
  readonly spells: readonly OverLimit[];
  readonly error: number;
}

/** Spark taken back of the cylinder that loses most, written as a positive or a negative number; undefined where none is logged. */
export const knockSpells = (signals: Signals): (Spells & Pick<Worst, 'channelAt'>) | undefined => {
  const worst = worstOf(signals, 'knock-retard');
  if (!worst) return undefined;
  const { values: logged, channelAt } = worst;
  const { limits } = signals.vehicle,
    limit = limitOf('knockRetardDeg', limits).value,
    error = limitOf('knockRetardErrorDeg', limits).value;
  const { least, greatest } = rangeOfColumn(logged),
    negative = !(greatest > 0);
  // Most drives never come near it.
  if (!((negative ? -least : greatest) >= limit)) return { spells: [], error, channelAt };
  const rpm = signals.held('engine-speed');
  return {
    spells: overLimit(
      signals,
      logged.map((value, i) => (rpm && rpm[i] < 400 ? NaN : negative ? -value : value)),
      limit,
    ),
    error,
    channelAt,
  };
};

/** Fall of the pressure that the regulator should hold, percent. */
export const pressureSpells = (signals: Signals, droop: Droop): Spells => {
  const { limits } = signals.vehicle,
    limit = limitOf('fuelPressureDropPercent', limits).value,
    error = limitOf('fuelPressureDropErrorPercent', limits).value;
  return {
    spells: droop.reaches(limit) ? overLimit(signals, droop.percent, limit, { leastS: limitOf('fuelPressureDropS', limits).value }) : [],
    error,
  };
};

/**
 * Duty per sample, percent, of the injector that is open longest: as logged, else pulse width over the 720° cycle (ms × rpm / 1200; a cycle
 * lasts 120000 / rpm ms).
 */
export const dutyOf = (signals: Signals): (Worst & { readonly computed: boolean }) | undefined => {
  const logged = worstOf(signals, 'injector-duty');
  if (logged) return { ...logged, computed: false };
  const pulse = worstOf(signals, 'injector-pulse-width'),
    rpm = believed(signals, 'engine-speed');
  return pulse && rpm
    ? { values: pulse.values.map((ms, i) => (ms * rpm[i]) / 1200), channelAt: pulse.channelAt, computed: true }
    : undefined;
};

/** `own`: the limit of the injectors in vehicle.json, where that is what warns. */
export const dutySpells = (
  signals: Signals,
): (Spells & NonNullable<ReturnType<typeof dutyOf>> & { readonly own: number | undefined }) | undefined => {
  const duty = dutyOf(signals);
  if (!duty) return undefined;
  const { limits, injectors } = signals.vehicle;
  const own = limits.injectorDutyPercent === undefined ? injectors.maxDutyPercent : undefined;
  const warn = own ?? limitOf('injectorDutyPercent', limits).value;
  return {
    ...duty,
    own,
    spells: overLimit(signals, duty.values, warn),
    error: Math.max(warn, limitOf('injectorDutyErrorPercent', limits).value),
  };
};

/** Intake air under load, °C, each from its first loaded moment to its last. */
export const hotAirSpells = (signals: Signals): (Spells & Pick<Worst, 'channelAt'>) | undefined => {
  // What the engine breathes may be told before the cooler and behind it.
  const worst = worstOf(signals, 'intake-air-temperature');
  if (!worst) return undefined;
  const { values: air, channelAt } = worst;
  const { limits } = signals.vehicle,
    { load } = operatingOf(signals);
  const spells = overLimit(signals, air, limitOf('intakeAirHotC', limits).value, { bridgeS: 3 }).flatMap((hot): OverLimit[] => {
    let from = -1,
      to = -1,
      peakAt = -1,
      loaded = 0;
    for (let i = hot.from; i < hot.to; i++) {
      if (load[i] === 0 || air[i] !== air[i]) continue;
      if (from < 0) from = i;
      to = i + 1;
      loaded++;
      if (peakAt < 0 || air[i] > air[peakAt]) peakAt = i;
    }
    return loaded >= 2 ? [{ from, to, peakAt, peak: air[peakAt] }] : [];
  });
  return { spells, channelAt, error: limitOf('intakeAirHotErrorC', limits).value };
};

export type Distress = 'knock' | 'fuel-pressure' | 'injector-duty' | 'hot-air';

/**
 * Spells that are errors, by what is wrong. A channel that never reads so much is not searched for its faults: to believe fewer readings
 * makes none.
 */
export const distressOf = (signals: Signals): readonly (readonly [what: Distress, spells: readonly OverLimit[]])[] => {
  const {
    held,
    vehicle: { limits },
  } = signals;
  const retard = held('knock-retard'),
    knockDeg = limitOf('knockRetardErrorDeg', limits).value;
  const all: readonly (readonly [Distress, Spells | undefined])[] = [
    [
      'knock',
      retard && (mostHeld(signals, 'knock-retard') >= knockDeg || -rangeOfColumn(retard).least >= knockDeg)
        ? knockSpells(signals)
        : undefined,
    ],
    ...droopsOf(signals)
      .filter(({ droop }) => droop.reaches(limitOf('fuelPressureDropErrorPercent', limits).value))
      .map(({ droop }): readonly [Distress, Spells] => ['fuel-pressure', pressureSpells(signals, droop)]),
    ['injector-duty', dutyReaches(signals, limitOf('injectorDutyErrorPercent', limits).value) ? dutySpells(signals) : undefined],
    [
      'hot-air',
      mostHeld(signals, 'intake-air-temperature') >= limitOf('intakeAirHotErrorC', limits).value ? hotAirSpells(signals) : undefined,
    ],
  ];
  return all.map(([what, found]) => [what, found?.spells.filter(({ peak }) => peak >= found.error) ?? []]);
};

const dutyReaches = (signals: Signals, percent: number): boolean => {
  if (mostHeld(signals, 'injector-duty') >= percent) return true;
  const rpm = signals.held('engine-speed');
  return rpm !== undefined && columnsOf(signals, 'injector-pulse-width').some((pulseMs) => pulsesReach(pulseMs, rpm, percent));
};

const pulsesReach = (pulseMs: Float64Array, rpm: Float64Array, percent: number): boolean => {
  for (let row = 0; row < rpm.length; row++) if ((pulseMs[row] * rpm[row]) / 1200 >= percent) return true;
  return false;
};
