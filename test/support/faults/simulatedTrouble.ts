// Troubles that the simulator's engine really has, not painted on its log: a pump that fades as it is asked for more, a cylinder that
// does not fire. What is true is read off the simulator's own truth.

import { makeCar, perfectTable, simulateDrive, type Car, type DriveOptions } from '../simulator/index.js';
import { isLoaded, named, spellOf, stretches, twoSamplesS } from './places.js';
import { seeded } from './random.js';
import { channelOf, withFault, type Recording } from './recording.js';
import { fromDrive } from './simulatedDrive.js';

const clamp01 = (value: number): number => Math.min(1, Math.max(0, value));

const drive = (
  car: Car,
  seed: number,
  minutes: number,
  rateHz: number,
  trouble: NonNullable<DriveOptions['trouble']>,
  driver: DriveOptions['driver'],
) => simulateDrive({ car, seed, minutes, rateHz, fuelTable: perfectTable(car), driver, start: 'warm', trouble });

/**
 * From some moment on the pressure over the injector falls with load, by one part in six to three. Visible: lambda 0.06 over target for
 * half a second under load.
 */
export const simulateFadingPump = (seed: number): Recording | undefined => {
  const random = seeded(seed ^ 0x7f4a7c15),
    car = makeCar(random.pick(['turbo', 'supercharged', 'turbo', 'natural']), seed);
  const minutes = random.between(5, 7),
    fromS = random.between(60, minutes * 30),
    lost = random.between(0.17, 0.33),
    rateHz = random.pick([10, 20, 25, 50]);
  const run = drive(
    car,
    seed,
    minutes,
    rateHz,
    (timeS, { pressureKPa }) => (timeS < fromS ? undefined : { fuelPressureFactor: 1 - lost * clamp01((pressureKPa - 78) / 18) }),
    'track',
  );
  let recording = fromDrive(run, `simulated fading pump ${rateHz} Hz`);
  const lambda = channelOf(recording, 'lambda'),
    target = channelOf(recording, 'target-lambda'),
    rail = channelOf(recording, 'fuel-pressure');
  if (!lambda || !target) return undefined;
  const loaded = isLoaded(recording),
    over = (sample: number): number => run.truth.sensorLambda[sample] - target.values[sample];
  const lean = stretches(recording, (sample) => loaded(sample) && over(sample) > 0.06, Math.max(0.5, 4 / rateHz));
  if (lean.length === 0) return undefined;
  const any = stretches(recording, (sample) => loaded(sample) && over(sample) > 0.03, 0.1);
  const soon = lean.map(([from]) => any.find(([a, b]) => a <= from && b >= from)?.[0] ?? from);
  recording = withFault(recording, {
    class: rail ? 'lean under load: fading pump, pressure logged' : 'lean under load: fading pump, no pressure',
    channel: named(lambda),
    spells: any.map(([a, b]) => spellOf(recording, a, b)),
    codes: ['lean-under-load'],
    also: ['fuel-pressure-drop', 'injector-duty-high', 'knock'],
    severities: ['error'],
    because: 'more than 0.05 above target for more than 0.2 s under load: the engine is at risk',
    onsets: lean.map(([from], at) => [recording.timeS[soon[at]] - 0.35, recording.timeS[from]]),
    twoSamplesS: twoSamplesS(recording, lambda),
    note: `${(100 * lost).toFixed(0)} % of the pressure lost under load`,
  });
  if (!rail) return recording;
  const weak = stretches(recording, (sample) => recording.timeS[sample] >= fromS && run.truth.pressureKPa[sample] > 79, 0.05);
  const sure = stretches(recording, (sample) => recording.timeS[sample] >= fromS && run.truth.pressureKPa[sample] > 95, 1);
  if (sure.length === 0) return recording;
  return withFault(recording, {
    class: 'fuel pressure falls',
    channel: named(rail),
    spells: weak.map(([a, b]) => spellOf(recording, a, b)),
    codes: ['fuel-pressure-drop'],
    also: ['lean-under-load', 'injector-duty-high'],
    severities: ['error'],
    because: 'more than 10 % less pressure over the injector',
    onsets: weak.map(([a, b]) => [recording.timeS[a], Math.min(recording.timeS[b], recording.timeS[a] + 1)]),
    twoSamplesS: twoSamplesS(recording, rail),
    note: `−${(100 * lost).toFixed(0)} % at full load`,
  });
};

/**
 * One cylinder of bank 1 is dead for 6 to 15 s. Visible: both banks, engine speed and the short trim are logged; the engine runs at idle or
 * part load at its start.
 */
export const simulateMisfire = (seed: number): Recording | undefined => {
  const random = seeded(seed ^ 0x1b873593),
    base = makeCar('two-bank', seed);
  const looped = random.chance(0.6);
  const car: Car = looped
    ? {
        ...base,
        ecu: { ...base.ecu, closedLoop: 'wideband' },
        log: { ...base.log, channels: [...base.log.channels, 'short-term-fuel-trim'] },
      }
    : base;
  const minutes = random.between(5, 6),
    rateHz = random.pick([10, 20, 25, 50]),
    fromS = random.between(40, minutes * 60 - 40),
    toS = fromS + random.between(6, 15);
  const run = drive(car, seed, minutes, rateHz, (timeS) => (timeS >= fromS && timeS <= toS ? { misfiring: 0 } : undefined), 'street');
  const recording = fromDrive(run, `simulated misfire ${rateHz} Hz`),
    lambda = channelOf(recording, 'lambda')!;
  // dead while fuel is cut shows nothing: at least 3 s of the spell must burn
  const shown = stretches(
    recording,
    (sample) =>
      recording.timeS[sample] >= fromS + 0.6 &&
      recording.timeS[sample] <= toS &&
      !['overrun', 'refuelling', 'shift'].includes(recording.state[sample]),
    3,
  );
  if (shown.length === 0) return undefined;
  return withFault(recording, {
    class: 'misfire on one bank',
    channel: named(lambda),
    spells: [[fromS, toS + 0.6]],
    codes: ['misfire-suspected'],
    also: ['time-gap'],
    severities: ['warning', 'error'],
    because: 'unburnt fuel reaches the catalyst and the reading invites enriching an engine that is not lean',
    onsets: [[fromS, Math.max(fromS + 0.6, recording.timeS[shown[0][0]])]],
    twoSamplesS: twoSamplesS(recording, lambda),
    note: `one of ${car.cylinders} dead${looped ? ', closed loop' : ''}`,
  });
};
