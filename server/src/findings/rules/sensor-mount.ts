// sensor-mount: the lambda sensor does not see what the engine burns: it sits behind a catalyst or at the tailpipe, or air leaks in ahead
// of it, or into the intake unmetered.

import { formatNumber } from '../../quantities/format.js';
import { mixtureOf, type SlowSensor } from '../mixture.js';
import { faultsByChannel } from '../../signals/faults/byChannel.js';
import type { Fault, Signals } from '../../signals/signals.js';
import type { Finding, Rule } from '../finding.js';
import { sampleLog, unrest } from '../sampleLog.js';
import { limitText, nameOf, spellFinding, timesOf } from '../spell.js';

const leakFinding = (signals: Signals, faults: readonly Fault[]): Finding =>
  spellFinding(signals, faults[0].channel, faults[0], {
    code: 'sensor-mount',
    severity: 'warning',
    message:
      `${nameOf(faults[0].channel)} reads ${formatNumber(Number(faults[0].data.atIdle), 2)} λ lean of target at idle (${limitText(signals, 'airLeakIdleLambda')}), yet agrees with it when driven (${formatNumber(Number(faults[0].data.elsewhere), 2)} λ off). ` +
      'An air leak ahead of the sensor is suspected: check the exhaust joints up to it with the engine cold, then the intake for unmetered air, before touching the cells of idle and light load. What is read there is no evidence until then.',
    data: {
      kind: 'air-leak',
      atIdle: faults[0].data.atIdle,
      elsewhere: faults[0].data.elsewhere,
      spells: faults.map((fault) => timesOf(signals, fault)),
    },
  });

const trimLeakFinding = (signals: Signals, faults: readonly Fault[]): Finding =>
  spellFinding(signals, faults[0].channel, faults[0], {
    code: 'sensor-mount',
    severity: 'warning',
    message:
      `The trims add ${formatNumber(Number(faults[0].data.atIdle), 0)} % of fuel at idle (${limitText(signals, 'airLeakIdleTrimPercent')}), and ${formatNumber(Number(faults[0].data.elsewhere), 0)} % at ${Number(faults[0].data.times)} times its air flow and more. ` +
      "Air that no meter counts is suspected: check the intake behind the air meter (hoses, gaskets, brake booster), then the exhaust joints up to the sensor, then the injectors' dead time, before touching the idle cells. Idle is no evidence until then.",
    data: {
      kind: 'air-leak',
      by: 'trims',
      atIdle: faults[0].data.atIdle,
      elsewhere: faults[0].data.elsewhere,
      spells: faults.map((fault) => timesOf(signals, fault)),
    },
  });

const slowFinding = (signals: Signals, slow: SlowSensor): Finding => {
  const {
    channel,
    answer: { lagS, delays, lateS, cuts },
  } = slow;
  const late = [
    ...(lagS > 0 ? [`has a time constant of ${formatNumber(lagS, 2)} s`] : []),
    ...(delays > 1 ? [`comes ${formatNumber(delays, 1)} times as late as the delay's model has it`] : []),
    ...(lateS > 0 ? [`comes ${formatNumber(lateS, 2)} s later than the delay's model has it`] : []),
  ];
  return spellFinding(signals, channel, slow, {
    code: 'sensor-mount',
    severity: 'information',
    message:
      `${nameOf(channel)} answers slowly: by ${cuts} fuel cuts of this log it ${late.join(' and ')}. ` +
      'Under load its way to the target is taken for its own and not called lean, so a short lean moment there may not show. See whether the sensor is old or sits far down the pipe; `lambdaSensor.transportDelay` in vehicle.json, where it is known, goes before this.',
    data: { kind: 'slow', lagS, delays, lateS, cuts },
  });
};

const isLambda = ([
  {
    channel: { quantity },
  },
]: readonly Fault[]): boolean => quantity === 'lambda' || quantity === 'lambda-2';

const log = (): string =>
  `=== a.session.csv\n${sampleLog(6, 0.5, { 'engine speed (rpm)': (t) => 900 + unrest(t, 10), lambda: (t) => 1 + unrest(t, 0.01) })}`;

export const rule: Rule = {
  code: 'sensor-mount',
  concerns: 'readings',
  docs: {
    title: 'Lambda sensor that does not see what the engine burns',
    meaning:
      'A catalyst stores oxygen and burns what is left, so a sensor behind it hides lean and rich moments. A probe at the tailpipe reads late, and lean at idle, where outside air flows back. Air that leaks into the exhaust ahead of the sensor looks like a lean mixture, most at idle, where there is least exhaust to thin it.',
    computed:
      'From `lambdaSensor.mount` in vehicle.json; told once for each session with a lambda channel. Readings from behind a catalyst give no evidence on any cell. ' +
      "An air leak is suspected, and idle readings are not believed, where warm idle reads more than `airLeakIdleLambda` lean in the middle and 60 % of that in four fifths of its readings, while part load is within `airLeakElsewhereLambda` of the target, which is the logged one or that of the vehicle's table. Nor is it evidence on a table what such a hole would still shift by 2 % and more where little air flows. " +
      'Where a closed loop makes up for it, the trims tell it: short-term and long-term together add more than `airLeakIdleTrimPercent` in the middle of warm idle and 60 % of that in four fifths of its readings, and, in the middle of what is driven at three times the air flow of idle and more, lie within `airLeakElsewhereTrimPercent` of that share times the air flow of idle over the one there (15 s of each; common practice, no source). ' +
      "A sensor that answers slowly, an old one or one far down the pipe, is told where its way to a richer target would read as lean under load: how long fuel cuts take to leave its reading again (four at least, three of four of them above 0.33 s) is its time constant; for a probe in the tailpipe also how late their begin shows, for another by how much more than the model's delay its reading leaves air when a foot ends them. " +
      'A hole lets in much the same air at all times; a meter or an injector of the wrong scale asks for fuel everywhere. An engine whose fuel table is named and whose air flow is not logged is not judged so: if it goes by its manifold pressure, it meters what leaks in.',
    causes: [
      'The only bung is the one for the second sensor',
      'A clamp-on probe used for a quick look',
      'A cracked manifold, a leaking flange or clamp ahead of the sensor',
      'An intake that draws air behind the meter: a hose, a gasket, the brake booster',
      'A sensor that has aged',
    ],
    checkFirst: 'Whether the exhaust has a bung ahead of the catalyst, at least about 0.6 m from the ports; a bung is welded in an hour.',
    limits: [
      'airLeakIdleLambda',
      'airLeakElsewhereLambda',
      'airLeakIdleTrimPercent',
      'airLeakElsewhereTrimPercent',
      'idleBandRpm',
      'warmCoolantC',
    ],
  },
  sample: () => ({
    firing: `=== vehicle.json\n{ "lambdaSensor": { "mount": "downstream" } }\n${log()}`,
    quiet: `=== vehicle.json\n{ "lambdaSensor": { "mount": "upstream" } }\n${log()}`,
  }),
  session: (signals) => {
    const leaks = [...faultsByChannel(signals, 'implausible').values()]
      .map((faults) => faults.filter(({ shape }) => shape === 'air-leak'))
      .filter(({ length }) => length > 0);
    const byLambda = leaks.filter(isLambda),
      leaking =
        byLambda.length > 0
          ? byLambda.map((faults) => leakFinding(signals, faults))
          : leaks.map((faults) => trimLeakFinding(signals, faults));
    const { mount } = signals.vehicle.lambdaSensor;
    const channel = signals.channel('lambda') ?? signals.channel('lambda-2');
    const others = [...leaking, ...mixtureOf(signals).slow.map((slow) => slowFinding(signals, slow))];
    if (!channel || mount === undefined || mount === 'upstream') return others;
    const finding: Finding = {
      code: 'sensor-mount',
      severity: mount === 'downstream' ? 'warning' : 'information',
      range: channel.headerRange,
      channel: channel.quantity ?? channel.name,
      message:
        mount === 'downstream'
          ? `${nameOf(channel)} comes from behind the catalyst (vehicle.json says "downstream"): it does not show what the engine burns and gives no evidence on any cell. Fit the sensor ahead of the catalyst before judging the fuel table.`
          : `${nameOf(channel)} comes from the tailpipe: it reads late, and lean at idle where air flows back. Put the probe at least half a metre up the pipe and trust it only under load.`,
      data: { mount },
    };
    return [finding, ...others];
  },
};
