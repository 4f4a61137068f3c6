// channel-clipped: a sensor at its stop while the engine goes on, told once for each end of a channel.

import { unjudgedFuel } from '../../signals/mixture/offTarget.js';
import { formatNumber, formatValue } from '../../quantities/format.js';
import { QUANTITIES } from '../../quantities/quantity.js';
import { UNITS } from '../../quantities/units.js';
import { limitOf } from '../../formats/limits.js';
import { operatingOf } from '../../signals/drive/operating.js';
import { faultsByChannel } from '../../signals/faults/byChannel.js';
import { beyondLean, beyondRich } from '../../signals/faults/lambdaAtEnds.js';
import type { Fault, Signals, Span } from '../../signals/signals.js';
import type { Finding, Rule, Severity } from '../finding.js';
import { pullColumns, sampleLog, unrest } from '../sampleLog.js';
import { limitText, nameOf, spellFinding, timesOf, whenText } from '../spell.js';

/** Spells at one stop, parted by less than this, are one visit to it. */
const ONE_VISIT_S = 1;

/** `lastsS` is the time at the stop, without the moments between. */
interface Visit extends Span {
  readonly fault: Fault;
  readonly underLoad: boolean;
  readonly excused: boolean;
  readonly lastsS: number;
}

const visitsOf = (signals: Signals, faults: readonly Fault[]): Visit[] => {
  const { timeS } = signals;
  const { load } = operatingOf(signals);
  const visits: { fault: Fault; from: number; to: number; faults: Fault[] }[] = [];
  for (const fault of faults) {
    const last = visits.at(-1);
    if (last && timeS[fault.from] - timeS[last.to - 1] < ONE_VISIT_S && last.fault.kind === fault.kind) {
      last.to = fault.to;
      last.faults.push(fault);
    } else visits.push({ fault, from: fault.from, to: fault.to, faults: [fault] });
  }
  // Rich by right: a cold engine, and the fuel film that a closed throttle draws off the walls.
  const warmUp = signals.during('warm-up'),
    overrun = signals.during('overrun');
  return visits.map(({ faults: within, ...visit }) => {
    let loaded = 0,
      excused = 0,
      all = 0,
      lastsS = 0;
    for (const span of within) {
      for (let i = span.from; i < span.to; i++) {
        loaded += load[i];
        excused += warmUp[i] | overrun[i];
      }
      const [fromS, toS] = timesOf(signals, span);
      all += span.to - span.from;
      lastsS += toS - fromS;
    }
    return { ...visit, underLoad: loaded * 2 > all, excused: excused * 2 > all, lastsS };
  });
};

const judged = (visit: Visit): readonly [Severity, string] => {
  const { fault, underLoad, excused } = visit;
  const lambda = fault.channel.quantity === 'lambda' || fault.channel.quantity === 'lambda-2';
  const high = fault.kind === 'clipped-high';
  if (lambda && high) {
    return underLoad
      ? ['error', 'Under load the mixture may be far leaner than it shows: lift, and check fuel pressure and misfire first.']
      : ['warning', "The truth may be leaner than it shows: check for a misfire, an exhaust leak and the sensor's range in vehicle.json."];
  }
  if (lambda && excused && !underLoad)
    return ['information', 'Away from load, in warm-up or with the throttle closed, that much fuel is usual.'];
  if (lambda)
    return [
      'warning',
      "The truth may be richer than it shows: check the sensor's range in vehicle.json, then injectors and fuel pressure.",
    ];
  if (fault.channel.quantity === 'manifold-pressure' && high) {
    return [
      underLoad ? 'error' : 'warning',
      `Boost above it is not seen, and neither table nor fuel follow it: ${fault.shape === 'at-barometer' ? 'check the hose to the sensor and any valve in it, then whether the sensor shows more than the air around the car' : 'the sensor is too small for this engine'}.`,
    ];
  }
  return ['warning', "The truth may be far beyond: check that the sensor's range fits and how its output is scaled."];
};

/** Where the stop is known from. */
const stopFrom = (signals: Signals, { channel, kind, shape }: Fault): string =>
  shape === 'at-barometer'
    ? 'the barometer, above which this boosted engine draws far more air than there for each kPa'
    : (channel.quantity === 'lambda' || channel.quantity === 'lambda-2') && signals.vehicle.lambdaSensor.range !== undefined
      ? "the sensor's range in vehicle.json"
      : `the ${kind === 'clipped-high' ? 'greatest' : 'least'} value that this log shows, met too often to be chance`;

/** Spells kept beside the message; a broken sensor has thousands. */
const MOST_SPELLS = 200;

const live = pullColumns(215);
const cap =
  (at: (timeS: number) => number) =>
  (t: number): number =>
    Math.min(205, at(t));

export const rule: Rule = {
  code: 'channel-clipped',
  concerns: 'readings',
  docs: {
    title: 'Sensor at its stop',
    meaning:
      'At its stop a sensor has stopped measuring: the truth may be far beyond. A manifold pressure sensor that is too small for the boost hides exactly the load at which engines die.',
    computed:
      "The same extreme value `clippedReadings` or more running, at the top or bottom of the channel, more often than the channel's own unrest lets equal values follow each other by chance. Manifold pressure and air flow also where they stay within 0.2 % of their greatest value with a third of the unrest that their upper half has. A channel that shows no such unrest anywhere (small changes that turn back) may simply be level: it counts only where a sensor may end (about 105, 200, 250, 300 and 400 kPa, 255 in one byte) and the engine took more air meanwhile; fuel and oil pressure, which a valve holds level, only at 765 kPa; lambda only at the stated range's ends, or below 0.66 and above 1.35. " +
      'Where `lambdaSensor.range` in vehicle.json names the ends, so many readings at an end are enough, and so many richer than its lower end and than any engine burns (0.66), or leaner than its upper end and than any burns (1.35), are not believed. Not told: lambda at its lean end in a fuel cut, a gear shift, with the engine off or at the rev limiter (that is air), rich spikes shorter than `clippedRichS`, lean ones away from load shorter than `clippedLeanS`, deep vacuum, and manifold pressure resting at the barometer (unless load, or air flow for each turn, then stands a quarter above what it is for each kPa at part load: that is boost unseen). Lambda that stays at its lean end for 4 s when the last of the air has gone is told. ' +
      'Told once for each end, at its worst visit (under load first, then the longest), with the number of visits. An error under load for manifold pressure at its top and lambda at its lean end, a note for lambda at its rich end away from load in warm-up or overrun, else a warning. Manifold pressure of an engine that is stated to be boosted (`engine.aspiration`), that never rises more than 4 kPa above the barometer and meets the same test of load, air flow or fuel times lambda, is told likewise.',
    causes: [
      'A one-bar pressure sensor on a boosted engine',
      'An output scaled to too small a range in the controller or the logger',
      'A misfire or an air leak ahead of the lambda sensor',
      'A supply or ground that limits the signal',
    ],
    checkFirst: "The sensor's stated range against the greatest value that the engine can reach.",
    limits: ['clippedReadings', 'clippedRichS', 'clippedLeanS', 'loadManifoldPressureKPa', 'loadThrottlePercent', 'overrunAboveIdleRpm'],
  },
  sample: () => ({
    firing: `=== vehicle.json\n{ "engine": { "aspiration": "turbocharged" } }\n=== a.session.csv\n${sampleLog(12, 0.1, { ...live, 'manifold pressure (kPa)': cap(live['manifold pressure (kPa)']) }, 1)}`,
    quiet: `=== vehicle.json\n{ "engine": { "aspiration": "turbocharged" } }\n=== a.session.csv\n${sampleLog(12, 0.1, { ...live, lambda: (t) => live['target lambda'](t - 0.1) + unrest(t, 0.005) }, 3)}`,
  }),
  session: (signals) => {
    const lasting = ({ underLoad, excused, lastsS }: Visit): number => (underLoad ? 1000 : excused ? -1000 : 0) + lastsS;
    // A spike of a moment is told only where it hides something: a lean one under load.
    const richS = limitOf('clippedRichS', signals.vehicle.limits).value,
      leanS = limitOf('clippedLeanS', signals.vehicle.limits).value;
    const worthTelling = (visit: Visit): boolean => {
      const { quantity } = visit.fault.channel;
      if (quantity !== 'lambda' && quantity !== 'lambda-2') return true;
      // Behind a catalyst it shows no mixture anyway, and that is said; a diesel idles far beyond any gauge.
      if ((signals.vehicle.lambdaSensor.mount ?? 'upstream') !== 'upstream' || unjudgedFuel(signals) !== undefined) return false;
      return visit.lastsS >= (visit.fault.kind === 'clipped-low' ? richS : visit.underLoad ? 0 : leanS);
    };
    // Each end of a channel is told once, at its worst visit.
    return (['clipped-high', 'clipped-low'] as const).flatMap((kind) =>
      [...faultsByChannel(signals, kind).values()].flatMap((faults): Finding[] => {
        const visits = visitsOf(signals, faults).filter(worthTelling);
        if (visits.length === 0) return [];
        const worst = visits.reduce((a, b) => (lasting(b) > lasting(a) ? b : a));
        const { fault } = worst;
        const [severity, advice] = judged(worst);
        const spells = visits.map((visit) => timesOf(signals, visit));
        const totalS = spells.reduce((sum, [from, to]) => sum + to - from, 0);
        const [rich, lean] = fault.channel.quantity?.startsWith('lambda') ? (signals.vehicle.lambdaSensor.range ?? [NaN, NaN]) : [NaN, NaN];
        const beyond =
          kind === 'clipped-low' ? (fault.value < beyondRich(rich) ? rich : undefined) : fault.value > beyondLean(lean) ? lean : undefined;
        const often =
          visits.length === 1 ? '' : `, the worst of ${visits.length} visits (${formatNumber(totalS, totalS < 9.95 ? 1 : 0)} s in all)`;
        return [
          spellFinding(signals, fault.channel, worst, {
            code: 'channel-clipped',
            severity,
            message:
              beyond !== undefined
                ? `${nameOf(fault.channel)} reads λ ${formatNumber(fault.value, 2)}, ${kind === 'clipped-low' ? `richer than the λ ${formatNumber(beyond, 2)} from which` : `leaner than the λ ${formatNumber(beyond, 2)} up to which`} its sensor can show any (range in vehicle.json), ${whenText(signals, worst)}${often}. That is not believed: ${kind === 'clipped-low' ? "check on which fuel's AFR scale the column is, then the range." : 'check the scale of the column, then the range.'}`
                : `${nameOf(fault.channel)} stands at its ${kind === 'clipped-high' ? 'upper' : 'lower'} stop, ${formatValue(fault.value, UNITS[QUANTITIES[fault.channel.quantity!].unit])}, ${whenText(signals, worst)}${worst.underLoad ? ' under load' : ''}${often}. ` +
                  `${advice} (The stop is ${stopFrom(signals, fault)}; ${limitText(signals, 'clippedReadings')}.)`,
            data: {
              stop: fault.value,
              end: kind === 'clipped-high' ? 'high' : 'low',
              underLoad: worst.underLoad,
              visits: visits.length,
              totalS,
              spells: spells.slice(0, MOST_SPELLS),
            },
          }),
        ];
      }),
    );
  },
};
