// value-implausible: readings that no engine has, or a whole column that fits another unit than its header says.

import { formatNumber, formatValue } from '../../quantities/format.js';
import { QUANTITIES } from '../../quantities/quantity.js';
import { UNITS } from '../../quantities/units.js';
import { believed } from '../../signals/drive/operating.js';
import { narrowLambdas } from '../../signals/mixture/narrowLambda.js';
import { airAtRest } from '../../signals/airAtRest.js';
import { pulsesOfRpm } from '../../signals/pulsesOfRpm.js';
import { aboveAir } from '../../signals/faults/aboveAir.js';
import { gaugesApart, type GaugesApart } from '../../signals/mixture/gaugesApart.js';
import { limitOf } from '../../formats/limits.js';
import { overLimit } from '../../signals/columns/overLimit.js';
import { faultsByChannel } from '../../signals/faults/byChannel.js';
import { standingTrims } from '../../signals/mixture/standingTrims.js';
import { runThrough, type RunThrough } from '../../signals/drive/limiter.js';
import { LEANEST_BURNT_LAMBDA } from '../../signals/faults/scaleEnds.js';
import type { Fault, Signals } from '../../signals/signals.js';
import { banksApartFindings } from '../banksApart.js';
import { crossedFindings } from '../crossedSensors.js';
import { chargeFindings } from '../charge.js';
import { launchFindings } from '../launches.js';
import { oilFallFindings } from '../oilFalls.js';
import type { Finding, Rule } from '../finding.js';
import { pullColumns, sampleLog } from '../sampleLog.js';
import { limitText, limitWords, moreText, nameOf, spellFinding, timesOf, whenText, worstFew } from '../spell.js';
import type { Table } from '../../formats/table/table.js';
import type { Evidence } from '../../fueling/evidence.js';
import { axisFarBelow } from '../../fueling/doubts/gate.js';
import { trimsTurned } from '../../fueling/doubts/trimsTurned.js';
import { loopApart, type LoopApart } from '../../fueling/doubts/loopApart.js';
import { tableProblemFindings } from '../tableProblems.js';

/** What a header can say. */
const UNIT_SYMBOLS: ReadonlySet<string> = new Set(Object.values(UNITS).map(({ symbol }) => symbol));

const unitFinding = (signals: Signals, fault: Fault): Finding => {
  const { channel, data } = fault;
  const unit = channel.unit?.symbol || 'no unit';
  const canonical = UNITS[QUANTITIES[channel.quantity!].unit];
  const meant = (raw: number): number => Number((channel.toCanonical(raw) * Number(data.factor) + Number(data.offset)).toPrecision(6));
  const low = Number(data.low) * Number(data.factor) + Number(data.offset),
    high = Number(data.high) * Number(data.factor) + Number(data.offset);
  return spellFinding(signals, channel, fault, {
    code: 'value-implausible',
    severity: 'error',
    message:
      `${nameOf(channel)} is read in ${unit}, which makes it ${formatNumber(Number(data.low), canonical)} to ${formatValue(Number(data.high), canonical)}: no engine does that. The numbers look like ${String(data.looksLike)} ` +
      `(${formatNumber(low, canonical)} to ${formatValue(high, canonical)}). ${UNIT_SYMBOLS.has(String(data.looksLike)) ? 'Correct the header or map the channel in vehicle.json' : `Map the channel in vehicle.json with "scale": [[0, ${meant(0)}], [1, ${meant(1)}]]`}; until then nothing is concluded from it.`,
    data: { ...data, kind: 'unit' },
  });
};

/** What the computer makes up for all day; a fuel table's cells tell it where one is named. */
const trimFindings = (signals: Signals): Finding[] => {
  const trims = signals.vehicle.tables.fuel === undefined ? standingTrims(signals) : undefined;
  if (!trims) return [];
  const { trim, percent, low, high } = trims,
    channel = signals.channel(trim)!,
    isShort = percent > 0,
    range = [low, high].map(Math.abs).sort((a, b) => a - b);
  return [
    spellFinding(signals, channel, trims, {
      code: 'value-implausible',
      severity: 'warning',
      message:
        `The fuel trims ${isShort ? 'add' : 'take away'} ${formatNumber(Math.abs(percent), 0)} % of fuel over most of the warm drive (${formatNumber(range[0], 0)} to ${formatNumber(range[1], 0)} %; ${limitText(signals, 'trimsStandPercent')}): the computer reckons its fuel or its air that far wrong, and at full load, where no trim helps, the engine may run ${isShort ? 'lean' : 'rich'} by as much. ` +
        `Check ${isShort ? 'fuel pressure under load, the air meter, unmetered air and an exhaust leak ahead of the sensor, then the injectors' : 'fuel pressure, the air meter, a leaking injector or tank vent, then the fuel in the tank'} before the next pull.`,
      data: { kind: 'trims-stand', percent, low, high },
    }),
  ];
};

/** A loop that takes fuel away where lambda is lean. */
const turnedTrimFindings = (signals: Signals): Finding[] => {
  const turned = trimsTurned(signals);
  return turned
    ? [
        spellFinding(
          signals,
          turned.channel,
          { from: 0, to: signals.timeS.length },
          {
            code: 'value-implausible',
            severity: 'warning',
            message:
              `${nameOf(turned.channel)} moves against lambda (correlation ${formatNumber(turned.correlation, 2)} over ${formatNumber(turned.seconds, 0)} s of closed loop): it falls while the mixture is lean. A loop adds fuel then, so its sign is turned round. ` +
              'Turn the trims in vehicle.json under "channels" ("scale": [[0, 0], [1, -1]]); until then no cell is corrected by this log.',
            data: { kind: 'trims-turned', correlation: turned.correlation, seconds: turned.seconds },
          },
        ),
      ]
    : [];
};

/** A lambda that no gasoline engine's mixture makes. */
const noMixtureFinding = (signals: Signals, fault: Fault): Finding => {
  const {
    channel,
    data: { low, high, share, ratio },
  } = fault;
  return spellFinding(signals, channel, fault, {
    code: 'value-implausible',
    severity: 'error',
    message:
      `${nameOf(channel)} stands above λ ${formatNumber(LEANEST_BURNT_LAMBDA, 1)} for ${formatNumber(100 * Number(share), 0)} % of the time under fuel (λ ${formatNumber(Number(low), 2)} to ${formatNumber(Number(high), 2)}): no gasoline engine runs so. ` +
      `${ratio === undefined ? "It is a diesel's log, or the column is on another scale" : `It stands at ${formatNumber(Number(ratio), 2)} times its target throughout, so the column is on another scale`}. See which car was logged, then the scale of this channel; until then nothing is concluded from it.`,
    data: { ...fault.data, kind: 'no-mixture' },
  });
};

/** Of which more means richer. */
const risesFinding = (signals: Signals, fault: Fault): Finding => {
  const { low, high, isVolts, isMirrored } = fault.data,
    isTarget = fault.channel.quantity === 'target-lambda';
  return spellFinding(signals, fault.channel, fault, {
    code: 'value-implausible',
    severity: 'error',
    message:
      `${nameOf(fault.channel)} (${formatNumber(Number(low), 2)} to ${formatNumber(Number(high), 2)}) goes up with fuel, which lambda does not: ` +
      (isVolts === 1
        ? 'so do the volts of a narrow-band sensor, which tell rich from lean and no more. Call it "other" under "channels" in vehicle.json and log a wide-band lambda: what the engine burns under load is not known'
        : `${isTarget ? 'it asks for a lean mixture under load and for no rich one' : isMirrored === 1 ? 'it is one over the target' : 'it is low while the engine is dragged along without fuel'}, as an equivalence ratio is (φ = 1/λ). Name φ as its unit in the header. Should it be lambda all the same, the engine is ${isTarget ? 'asked to be ' : ''}lean under load: no pull before that is known`) +
      '. Nothing is concluded from it.',
    data: { ...fault.data, kind: 'rises-with-fuel' },
  });
};

const isTargetFinding = (signals: Signals, fault: Fault): Finding =>
  spellFinding(signals, fault.channel, fault, {
    code: 'value-implausible',
    severity: 'error',
    message: `${nameOf(fault.channel)} shows the same numbers as ${nameOf(signals.channel('target-lambda')!)}, at once wherever that moves: it is the target under another name, and no sensor's reading. What the engine burns is not known, and nothing is concluded from it: log the sensor, or map its column under "channels" in vehicle.json.`,
    data: { kind: 'is-target' },
  });

/** A fuel cut's flag that nothing goes by any more. */
const burntCutFinding = (signals: Signals, fault: Fault): Finding => {
  const { burntS, low, high, isTurned } = fault.data;
  return spellFinding(signals, fault.channel, fault, {
    code: 'value-implausible',
    severity: 'warning',
    message:
      `${nameOf(fault.channel)} says for ${formatNumber(Number(burntS), 0)} s that no fuel is injected while lambda reads λ ${formatNumber(Number(low), 2)} to ${formatNumber(Number(high), 2)}: without fuel the exhaust is air. ` +
      `${isTurned === 1 ? 'It is the other way round: 1 where fuel flows. Turn it in vehicle.json under "channels" ("scale": [[0, 1], [1, 0]])' : 'It is the other way round or another signal: map its column under "channels" in vehicle.json, or call it "other"'}. Nothing is left out by it.`,
    data: { ...fault.data, kind: 'burnt-cut' },
  });
};

/** A throttle that reads open where the engine is starved of air. */
const turnedFinding = (signals: Signals, fault: Fault): Finding => {
  const { closedPercent, openPercent } = fault.data;
  return spellFinding(signals, fault.channel, fault, {
    code: 'value-implausible',
    severity: 'warning',
    message:
      `${nameOf(fault.channel)} reads the wrong way round: ${formatNumber(Number(closedPercent), 0)} % at idle and where the manifold is at its lowest, ${formatNumber(Number(openPercent), 0)} % where it is full of air. ` +
      'Turn it in vehicle.json under "channels" ("scale": [[0, 100], [100, 0]]) or in the logger. Until then nothing is concluded from it, and load is told by the manifold\'s pressure.',
    data: { ...fault.data, kind: 'turned' },
  });
};

const rangeFinding = (signals: Signals, faults: readonly Fault[]): Finding => {
  const [first] = faults;
  const unit = UNITS[QUANTITIES[first.channel.quantity!].unit];
  const [low, high] = [Number(first.data.low), Number(first.data.high)];
  const worst = faults.reduce((a, b) => (Math.abs(b.value - (low + high) / 2) > Math.abs(a.value - (low + high) / 2) ? b : a));
  const more = faults.length > 1 ? ` and in ${faults.length - 1} more spells` : '';
  return spellFinding(signals, first.channel, first, {
    code: 'value-implausible',
    severity: 'warning',
    message:
      `${nameOf(first.channel)} reads ${formatValue(worst.value, unit)} ${whenText(signals, first)}${more}; plausible is ${formatNumber(low, unit)} to ${formatValue(high, unit)} (${first.data.rangeFrom === 'vehicle.json' ? 'set in vehicle.json' : 'default by common practice'}). ` +
      "Check the sensor's wiring, then the unit and the scale of this channel.",
    data: { kind: 'range', value: worst.value, low, high, spells: faults.map((fault) => timesOf(signals, fault)) },
  });
};

/**
 * A boost control swings so far and so briefly about what it holds, and the barometer about what it is said to be. Common practice, no
 * source.
 */
const OVER_KPA = 4,
  OVER_S = 0.3;

/** Above what the owner says the engine is meant to see: the reading may be true all the same, and is believed. */
const overOwnLimit = (signals: Signals): Finding[] => {
  const most = signals.vehicle.engine.maxManifoldPressureKPa,
    channel = signals.channel('manifold-pressure'),
    values = believed(signals, 'manifold-pressure');
  if (most === undefined || !channel || !values) return [];
  return worstFew(overLimit(signals, values, most + OVER_KPA, { leastS: OVER_S }), (a, b) => b.peak - a.peak).map(({ spell, more }) =>
    spellFinding(signals, channel, spell, {
      code: 'value-implausible',
      severity: 'warning',
      message:
        `${nameOf(channel)} reaches ${formatNumber(spell.peak, 0)} kPa ${whenText(signals, spell)}, above the ${formatNumber(most, 0)} kPa that this engine is meant to see (engine.maxManifoldPressureKPa in vehicle.json). ` +
        `Check the boost control before the next pull, then this sensor's scale.${moreText(more)}`,
      data: { kind: 'over-limit', value: spell.peak, high: most, more },
    }),
  );
};

/** Beyond any limiter's overshoot, of the limit that vehicle.json tells. Common practice, no source. */
const OVERDRIVEN_SHARE = 1.1,
  OVERDRIVEN_S = 0.2;

/** Driven by the wheels, where a limiter has nothing to cut: a gear too low. */
const overdriven = (signals: Signals): Finding[] => {
  const most = signals.vehicle.engine.revLimitRpm,
    channel = signals.channel('engine-speed'),
    values = believed(signals, 'engine-speed');
  if (most === undefined || !channel || !values) return [];
  return worstFew(overLimit(signals, values, most * OVERDRIVEN_SHARE, { leastS: OVERDRIVEN_S }), (a, b) => b.peak - a.peak).map(
    ({ spell, more }) =>
      spellFinding(signals, channel, spell, {
        code: 'value-implausible',
        severity: 'warning',
        message:
          `${nameOf(channel)} reaches ${formatNumber(spell.peak, 0)} rpm ${whenText(signals, spell)}, above the ${formatNumber(most, 0)} rpm that this engine is meant to see ("revLimitRpm" in vehicle.json). ` +
          `Where it is true, as in a gear too low, check valves and springs before the next pull.${moreText(more)}`,
        data: { kind: 'overdriven', value: spell.peak, high: most, more },
      }),
  );
};

/** Boost in an engine that is called natural: believed, for a wire that is loose reads otherwise. */
const aboveAirFindings = (signals: Signals): Finding[] => {
  const found = aboveAir(signals),
    channel = signals.channel('manifold-pressure');
  if (!found || !channel) return [];
  const { peakKPa, airKPa, seconds } = found;
  return [
    spellFinding(signals, channel, found, {
      code: 'value-implausible',
      severity: 'warning',
      message:
        `${nameOf(channel)} goes up to ${formatNumber(peakKPa, 0)} kPa, above the air around the car (${formatNumber(airKPa, 0)} kPa), for ${formatNumber(seconds, 0)} s in all: an engine without a blower cannot do that, and vehicle.json calls this one natural ("aspiration"). ` +
        'Write there what it is, "turbocharged" or "supercharged"; if it is natural, see to this sensor\'s unit and scale.',
      data: { kind: 'above-air', peakKPa, airKPa, seconds },
    }),
  ];
};

/** A manifold that does not stand at the air around it while the engine stands. */
const restFindings = (signals: Signals): Finding[] => {
  const rest = airAtRest(signals);
  if (!rest) return [];
  const { channel, barometer, manifoldKPa, airKPa } = rest,
    [kPa, air] = [formatNumber(manifoldKPa, 0), formatNumber(airKPa, 0)];
  return [
    spellFinding(signals, channel, rest, {
      code: 'value-implausible',
      severity: 'warning',
      message: `${nameOf(channel)} stands at ${kPa} kPa while the engine stands, and ${nameOf(barometer)} says ${air} kPa: one of them is wrong. Check the manifold sensor's type, scale and hose.`,
      data: { kind: 'air-at-rest', manifoldKPa, airKPa },
    }),
  ];
};

/** Every reading is judged all the same: lean is lean at whatever speed. */
const pulsesFindings = (signals: Signals): Finding[] => {
  const pulses = pulsesOfRpm(signals),
    channel = signals.channel('engine-speed');
  if (!pulses || !channel) return [];
  const { kind, factor, slowRpm } = pulses,
    one = (raw: number): number => Number((channel.toCanonical(raw) / factor).toPrecision(6));
  return [
    {
      code: 'value-implausible',
      severity: 'error',
      range: channel.headerRange,
      channel: 'engine-speed',
      message:
        `${nameOf(channel)} shows ${kind} the engine's speed: gear, road speed and gearbox say so, and it idles at ${formatNumber(slowRpm, 0)} rpm by it. If no reduction is missing under body in vehicle.json, set the logger's pulses, or map the channel in vehicle.json with "scale": [[0, ${one(0)}], [1, ${one(1)}]]. ` +
        'No cell is corrected by this log.',
      data: { kind: 'pulses', factor },
    },
  ];
};

/** A limiter that vehicle.json tells and the engine ran through: what it would excuse is judged all the same. */
const limiterFinding = (signals: Signals, through: RunThrough): Finding => {
  const { peakRpm, limitRpm } = through;
  return spellFinding(signals, signals.channel('engine-speed')!, through, {
    code: 'value-implausible',
    severity: 'warning',
    message: `Under load the engine ran ${formatNumber(peakRpm - limitRpm, 0)} rpm over the limit of ${formatNumber(limitRpm, 0)} rpm that vehicle.json tells ("revLimitRpm"), ${whenText(signals, through)}, and no limiter held it. Put the true one there; until then nothing in this session is left out as a limiter's cut at ${formatNumber(limitRpm, 0)} rpm.`,
    data: { kind: 'rev-limit', peakRpm, limitRpm },
  });
};

/** An axis of a target table that ends far below where the sessions drove, though its numbers could be true. */
const drivenBeyond = (target: Table, fuel: Table, { cells }: Evidence): Finding[] => {
  const along = axisFarBelow(fuel, cells, target),
    axis = along && target[along];
  if (!axis || target.problems.some(({ kind, data }) => data.axis === along && (kind === 'axis-ends-low' || kind === 'breakpoint')))
    return [];
  const highest = axis.canonical.indexOf(Math.max(...axis.canonical)),
    { title, unit } = QUANTITIES[axis.quantity!];
  return [
    {
      code: 'value-implausible',
      severity: 'warning',
      range: axis.ranges[highest],
      message:
        `More than half of the driven cells lie at over twice the ${formatValue(axis.canonical[highest], UNITS[unit])} where the ${along === 'columns' ? 'column' : 'row'} axis of this target table ends (${title}): its numbers are hardly in the unit that its head line says. ` +
        'Write the one that they are in; until then no correction is made toward this table.',
      data: { kind: 'axis-driven-beyond', axis: along, highest: axis.canonical[highest] },
    },
  ];
};

const gaugesFinding = (signals: Signals, { first, second, apart, low, high, readings }: GaugesApart): Finding => {
  const percent = (share: number): string => formatNumber(100 * Math.abs(share), 1),
    limit = limitOf('gaugesApartPercent', signals.vehicle.limits),
    [least, most] = apart > 0 ? [low, high] : [high, low];
  return {
    code: 'value-implausible',
    severity: 'warning',
    range: second.headerRange,
    channel: second.header,
    message:
      `Two gauges of one bank differ steadily: ${nameOf(first)} reads ${percent(apart)} % ${apart > 0 ? 'leaner' : 'richer'} than ${nameOf(second)} (middle of ${readings} readings, half of them between ${percent(least)} and ${percent(most)} %; ${limitWords(limit)}). ` +
      `Everything here goes by ${nameOf(first)}, and which of them is right the readings do not tell: hold both against a third or against free air, look at their fuel scales and for a leak before one of them. Until it is known no cell is corrected by this log; then call the wrong one "other" under "channels" in vehicle.json.`,
    data: { kind: 'gauges-apart', channels: [first.header, second.header], apart },
  };
};

/** What tells rich from lean alone is no measure of a mixture. */
const narrowFindings = ({ session }: Signals): Finding[] =>
  [...narrowLambdas(session).values()].map(({ narrow, wide, low, high }) => ({
    code: 'value-implausible',
    severity: 'warning',
    range: narrow.headerRange,
    channel: narrow.header,
    message: `${nameOf(narrow)} stands at λ ${formatNumber(low, 2)} or λ ${formatNumber(high, 2)} where ${nameOf(wide)} goes far beyond both: it tells rich from lean and no more, as a narrow-band sensor's signal does. Everything here goes by ${nameOf(wide)}. Call ${nameOf(narrow)} "other" under "channels" in vehicle.json.`,
    data: { kind: 'narrow-lambda', channels: [narrow.header, wide.header], low, high },
  }));

const loopFinding = (signals: Signals, { channel, apart, low, high, seconds }: LoopApart): Finding => {
  const percent = (share: number): string => formatNumber(100 * Math.abs(share), 1),
    [least, most] = apart > 0 ? [low, high] : [high, low];
  return {
    code: 'value-implausible',
    severity: 'warning',
    range: channel.headerRange,
    channel: channel.header,
    message:
      `${nameOf(channel)} reads ${percent(apart)} % ${apart > 0 ? 'lean' : 'rich'} of λ 1 (middle of ${formatNumber(seconds, 0)} s, half of them between ${percent(least)} and ${percent(most)} %; ${limitWords(limitOf('gaugesApartPercent', signals.vehicle.limits))}) while the computer's loop is closed and holds λ 1 by its own sensor. One of the two is wrong, and by as much this gauge may be at full load. ` +
      `Look at its calibration in free air and its fuel scale, then at the computer's sensor and for a leak ahead of either.${apart < 0 ? ' Until it is known no fuel is taken out by this log.' : ''}`,
    data: { kind: 'loop-apart', apart },
  };
};

const live = pullColumns();
const psi =
  (at: (timeS: number) => number) =>
  (t: number): number =>
    at(t) / 6.894757;

export const rule: Rule = {
  code: 'value-implausible',
  concerns: 'readings',
  docs: {
    title: 'Reading that no engine has',
    meaning: 'The number cannot be true: a wiring fault, a wrong unit or scale, or a channel that is something else.',
    computed:
      "Values outside the quantity's plausible range. A lambda above its range is a sensor's end and told as such, unless the vehicle file sets a range. " +
      'A whole column counts as a wrong unit where it cannot be what its header says and another unit makes it fit: manifold pressure must be near the barometer with the engine off and rise towards it with the throttle open, a throttle must not end at 1, an engine that holds a vacuum must not turn slower than a starter, warm coolant must not stand at 190 °C, a short-term trim must not swing about 1 or about 100. ' +
      "A fuel-cut flag under which lambda stays below 1.08 for more than half of the time (from 3 s after the cut, 5 s and more in all) is not a fuel cut's, and is not used, unless the foot is off and the engine above 1300 rpm for most of that: then it is the sensor that sees nothing of the overrun. " +
      'A throttle or pedal that stands 25 % and more farther open at idle, and where the manifold holds less than half of the air around, than where it holds 85 % and more of it (in four fifths of the readings of each) reads the wrong way round, and is not used. ' +
      "A lambda that follows its target at once and to the last digit is the target under another name. A target above 1.03 for half of the time under load and hardly ever below 0.98, a lambda that is one over its target (within 3 % in four fifths of the readings off λ 1), or below 0.55 in half of the overruns (0.75 where it is above 1.03 under load) and above 1.15 in none goes up with fuel, as does one that swings below 0.55 and hardly comes above 0.97. A lambda that stands above 1.5 for six tenths of the time with the throttle open, and moves there, is no gasoline engine's mixture. " +
      'Manifold pressure more than 4 kPa above `engine.maxManifoldPressureKPa` of vehicle.json for 0.3 s is told too, and believed; so is a pressure above the air around (by 6 %, 3 s and more in all, behind an open throttle, rising and falling) where `engine.aspiration` is natural. While the engine stands the manifold must be within 6 % of a logged barometer (below it only after 5 s). ' +
      'Short-term and long-term trims together that stand beyond `trimsStandPercent` to one side for seven tenths of a warm drive (120 s and more, away from load and overrun) are told where no fuel table is named, whose cells would tell it. ' +
      'An engine speed twice or half (within 6 %) of what gear, road speed and `body` make it is told where it idles at 1300 to 2400 or 300 to 560 rpm. ' +
      "Oil pressure that falls by `oilPressureFallPercent` of the log's own middle at that speed (of 500 rpm, from 2500 on; below 4000 its lower tenth where that is 120 kPa, a pump's lower stage; of its best tenth where less than 120 kPa are left), and below `oilPressureKPaPer1000Rpm`, for 0.3 s is an error; less than 120 kPa from 4000 rpm on is a warning, and an error where the log does not tell what it holds there (fewer than 20 readings), unless the header says no unit (for a crank on rollers set `oilPressureKPaPer1000Rpm` low). Its height otherwise is not judged, and nought is a loose wire's. Less than 12 V (and more than 8, another system's) for 10 s above 1500 rpm is a battery that is not charged. " +
      'A rev limit of vehicle.json is doubted where the speed under load rose more than 120 rpm through it, for 0.25 s: without torque no speed is gained; otherwise 10 % above it for 0.2 s is told. ' +
      'A cell of a fuel table that holds nothing where there is fuel at less load (a warning where the engine does not come there by vehicle.json, natural or by its `maxManifoldPressureKPa`), and an axis of absolute pressure below nought, are errors. ' +
      'An axis of a table that ends below anything an engine does (manifold pressure below 40 kPa, speed below 100 rpm, throttle or pedal below 2 %, load below 3 %), and one of a target table that ends at less than half of what most driven cells lie at, is doubted for its unit; no correction is made toward such a target. ' +
      'Spells at a standstill of a car that is driven in the log, under load, with the engine held at a speed and its ignition at 0° or later (a launch limiter) are told for information: lambda says nothing of the fuel there. ' +
      'Trims that move against lambda, driven and in closed loop (correlation −0.25 and less of the mean of lambda over its target and of what they come to add in 2.5 s, three deviations from chance), have their sign turned round; no cell is corrected by such a log. ' +
      'Trims of two banks at opposite ends for most of a warm drive (both beyond 18 %, or beyond 12 % while the two lambdas stand 8 % apart) are an error: the sensors are plugged crosswise. ' +
      'Two banks that stand more than 16 % apart in lambda (one of six cylinders without fuel makes 20 %; over `misfireS`, in spells of 2 s and more, 5 s in all, of a warm engine under way, outside of idle and of what `misfire-suspected` tells) are told once, and are no evidence on the table. Two gauges of one bank whose lambdas differ by `gaugesApartPercent` in the middle of all readings, and steadily (half of the readings within as much of each other), are told, unless one is an AFR on the scale of the fuel in the tank; no cell is corrected by such a log. Of two lambda columns of one bank the first is passed over, and told, where it stays between 0.85 and 1.15 and stands at its own ends (four fifths of 40 readings and more; of the rich end, where there are as many) while the other one is 0.05 and more beyond them. So is a gauge whose middle stands `gaugesApartPercent` and more off λ 1, steadily, over 40 s and more of driving (idle left out) in which the short-term trim is alive, no trim is at its end and λ 1 is asked for: by its own sensor the computer has it; no fuel is taken out by such a log where the gauge reads rich.',
    causes: [
      'A header or a logger set to the wrong unit: psi under kPa, °F under °C, a fraction under %',
      'An open or shorted sensor wire',
      "A scale in vehicle.json for another sensor, or a rev limit that is not the engine's",
      'Of battery voltage: alternator, belt, ground, or none fitted and an empty battery',
      'Of oil pressure: oil away from the pickup in a corner, too little of it, a relief valve that sticks',
      'Of two banks that contradict each other: a lambda sensor, its scale, an injector or a cylinder',
    ],
    checkFirst: 'The unit set in the logger for this channel, then one reading against a gauge you trust.',
    limits: ['misfireS', 'gaugesApartPercent', 'trimsStandPercent', 'oilPressureFallPercent', 'oilPressureKPaPer1000Rpm'],
    ranges: true,
  },
  sample: () => ({
    firing: `=== a.session.csv\n${sampleLog(12, 0.2, { ...live, 'manifold pressure (kPa)': psi(live['manifold pressure (kPa)']) }, 2)}`,
    quiet: `=== a.session.csv\n${sampleLog(12, 0.2, { ...live, 'manifold pressure (psi)': psi(live['manifold pressure (kPa)']), 'manifold pressure (kPa)': () => undefined }, 2)}`,
  }),
  table: ({ table, vehicle, fuelled }) => [
    ...tableProblemFindings('value-implausible', table, vehicle?.vehicle.engine),
    ...(fuelled ? drivenBeyond(table, fuelled.table, fuelled.evidence) : []),
  ],
  session: (signals) => {
    const byChannel = [...faultsByChannel(signals, 'implausible').values()];
    const of = (shape: string): Fault[][] =>
      byChannel.map((faults) => faults.filter((fault) => fault.shape === shape)).filter(({ length }) => length > 0);
    const each = (shape: string, told: (signals: Signals, fault: Fault) => Finding): Finding[] =>
      of(shape)
        .flat()
        .map((fault) => told(signals, fault));
    const pulses = pulsesFindings(signals),
      through = pulses.length > 0 ? undefined : runThrough(signals),
      gauges = gaugesApart(signals),
      loop = loopApart(signals);
    return [
      ...pulses,
      ...(through ? [limiterFinding(signals, through)] : pulses.length > 0 ? [] : overdriven(signals)),
      ...narrowFindings(signals),
      ...(gauges ? [gaugesFinding(signals, gauges)] : []),
      ...(loop ? [loopFinding(signals, loop)] : []),
      ...each('unit', unitFinding),
      ...each('burnt-cut', burntCutFinding),
      ...each('turned', turnedFinding),
      ...each('is-target', isTargetFinding),
      ...each('rises-with-fuel', risesFinding),
      ...each('no-mixture', noMixtureFinding),
      ...of('range').map((faults) => rangeFinding(signals, faults)),
      ...overOwnLimit(signals),
      ...aboveAirFindings(signals),
      ...restFindings(signals),
      ...oilFallFindings(signals),
      ...chargeFindings(signals),
      ...trimFindings(signals),
      ...crossedFindings(signals),
      ...turnedTrimFindings(signals),
      ...launchFindings(signals),
      ...banksApartFindings(signals),
    ];
  },
};
