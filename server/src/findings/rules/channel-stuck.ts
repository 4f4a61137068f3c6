// channel-stuck: a reading that stands still while the engine moves.

import { formatNumber, formatValue } from '../../quantities/format.js';
import { QUANTITIES, type QuantityId } from '../../quantities/quantity.js';
import { UNITS } from '../../quantities/units.js';
import { limitOf } from '../../formats/limits.js';
import { rangeOfColumn } from '../../signals/columns/stretches.js';
import { faultsByChannel } from '../../signals/faults/byChannel.js';
import type { Fault, Signals } from '../../signals/signals.js';
import type { Finding, Rule, Severity } from '../finding.js';
import { pullColumns, sampleLog, unrest } from '../sampleLog.js';
import { limitText, moreText, nameOf, spellFinding, timesOf, whenText, worstFew } from '../spell.js';

/** Channels that a judgement on fuel leans on. */
const LEANT_ON: ReadonlySet<QuantityId> = new Set<QuantityId>([
  'engine-speed',
  'manifold-pressure',
  'throttle',
  'lambda',
  'lambda-2',
  'mass-air-flow',
  'mass-air-flow-signal',
  'coolant-temperature',
  'injector-pulse-width',
  'injector-duty',
  'fuel-pressure',
  'engine-load',
  'vehicle-speed',
]);

/** Spells of a channel that are told one by one. */
const MOST_OF_A_CHANNEL = 3;

const lasting = (signals: Signals, fault: Fault): number => {
  const [from, to] = timesOf(signals, fault);
  return to - from;
};

/** A charge's mass goes with one over its absolute temperature: that of 20 °C reckoned for −40 °C is (273 + 20) / (273 − 40) = 1.26. */
const COLD_AIR_FUEL_PERCENT = 25;

/** A logged target that is passed over for the table (signals/mixture/target.ts). */
const stillTarget = (signals: Signals): Finding[] => {
  const channel = signals.channel('target-lambda'),
    { least, greatest } = rangeOfColumn(channel?.values ?? new Float64Array(0));
  return channel &&
    signals.targetLambda?.from === 'table' &&
    least === greatest &&
    signals.faultsOf(channel).every(({ kind }) => kind === 'dropout')
    ? [
        spellFinding(
          signals,
          channel,
          { from: 0, to: signals.timeS.length },
          {
            code: 'channel-stuck',
            severity: 'information',
            message: `${nameOf(channel)} keeps λ ${formatNumber(least, 2)} through the whole log, where the target table asks for more than one mixture. Everything here goes by the table; see what this channel is.`,
            data: { value: least, kind: 'still-target' },
          },
        ),
      ]
    : [];
};

const live = pullColumns();

export const rule: Rule = {
  code: 'channel-stuck',
  concerns: 'readings',
  docs: {
    title: 'Channel stands still',
    meaning: 'The number is a memory, not a reading. Any finding or correction that leans on this channel in that time would be wrong.',
    computed:
      'A run of one value for `stuckS` or longer that is too rare for this channel: its own run lengths in moments as busy are counted, the tail is read off, and the run must be less likely than about one in four hundred for the whole channel, ' +
      'three times as long as any other nearby and, on coarse channels, at odds with what the channels that go with it did for a quarter of that time. A run of fine steps that is the turn of a smooth curve is passed over. ' +
      'However coarse it is, a pressure, air flow, load, throttle, pedal or pulse width that keeps one value for `stuckS` (and ten of its own updates) is told where another of these went through a third of its range at one and the same engine speed: they measure the same thing (0.4 of it for a throttle or pedal, 0.6 where this one may rest by right: an end, the barometer; above a closed throttle only a full manifold counts; of three or more others two must agree). ' +
      'The same is told where it is off what this very log shows elsewhere at the same engine speed and the same reading of another of these (or of the pedal), outside of nine in ten of the values met there and by 0.06 of its range over `stillWhileDrivenS`, 0.12 over `stuckS` or where it may rest, for 3 s in all and a tenth of the time; a throttle behind a manifold at 0.85 of the barometer may stand anywhere. ' +
      'A road speed that stands is told where the engine speed meanwhile moved by a quarter in one gear, or, over `stillWhileDrivenS`, by 1.6 times in whatever gears. A channel without unrest anywhere (small changes that turn back) is judged so only against living ones, else over `stillWhileDrivenS` with engine speed through more than 1000 rpm. ' +
      'Lambda that showed the air of three overruns and then moves by less than 0.03 through three and all between, wide open too, is told likewise. A channel that keeps one value through a whole drive in which the others move is told too; one that reads 0 throughout was asked for and never answered. Injectors that stay shut while the engine burns fuel are told for information: a second set of them, or another fuel, may feed it. ' +
      'An intake air temperature that keeps one digit over `coldCoolantStillS` and more, at a standstill and above 60 km/h, while another temperature moves by 2 °C, is told: as a warning from `intakeAirHotC` on, else for information. −38 °C and less throughout, beside a warm engine, or leapt to from 15 °C more within 3 s, is an open wire. ' +
      'A target that keeps one value where the target table moves by more than λ 0.1 is passed over for the table, for information. Gear, flags, barometer, other targets, ethanol content, knock retard and trims may stand still for as long as they like; a coolant temperature only counts when it stays 10 °C below `warmCoolantC` for `coldCoolantStillS` of running.',
    causes: [
      'The controller no longer updates the value (limp mode, lost message)',
      'The logger repeats the last answer when none comes',
      'A value that this controller does not support',
      'A seized or unplugged sensor with a substitute value behind it',
    ],
    checkFirst: 'Whether the live value moves at all when the thing itself does.',
    limits: ['stuckS', 'stillWhileDrivenS', 'coldCoolantStillS', 'warmCoolantC', 'intakeAirHotC'],
  },
  sample: () => ({
    firing: `=== a.session.csv\n${sampleLog(24, 0.1, { ...live, lambda: (t) => (t >= 12 && t < 19 ? 0.987 : live['target lambda'](t - 0.1) + unrest(t, 0.006)), 'engine speed (rpm)': (t) => 2000 + 500 * Math.sin(t) + unrest(t, 9), 'throttle (%)': (t) => 30 + 15 * Math.sin(t + 0.3) + unrest(t, 0.4), 'manifold pressure (kPa)': (t) => 60 + 12 * Math.sin(t + 0.2) + unrest(t, 0.7) }, 3)}`,
    quiet: `=== a.session.csv\n${sampleLog(24, 0.1, { ...live, gear: () => 3, 'barometer (kPa)': () => 101, lambda: (t) => live['target lambda'](t - 0.1) + unrest(t, 0.006) }, 3)}`,
  }),
  session: (signals) => {
    const stuck = faultsByChannel(signals, 'stuck');
    return stillTarget(signals).concat(
      [...stuck.values()].flatMap((faults) =>
        worstFew(faults, (a, b) => lasting(signals, b) - lasting(signals, a), MOST_OF_A_CHANNEL).map(({ spell: fault, more }): Finding => {
          const { channel, value: still } = fault;
          const unit = channel.quantity ? UNITS[QUANTITIES[channel.quantity].unit] : undefined;
          const value = unit ? formatValue(still, unit) : formatNumber(still, 2);
          const data = {
            value: still,
            totalS: faults.reduce((sum, each) => sum + lasting(signals, each), 0),
            spells: faults.map((each) => timesOf(signals, each)),
            more,
          };
          if (fault.shape === 'never-answered') {
            return spellFinding(signals, channel, fault, {
              code: 'channel-stuck',
              severity: 'information',
              message: `${nameOf(channel)} reads 0 from the first sample to the last: it was asked for and never answered. It is left out; drop it from the logger's list and the rest come faster.`,
              data,
            });
          }
          if (fault.shape === 'open-circuit') {
            return spellFinding(signals, channel, fault, {
              code: 'channel-stuck',
              severity: 'warning',
              message: `${nameOf(channel)} stands at ${value}, where a sensor with an open wire ends, ${lasting(signals, fault) < 0.95 * signals.timeS[signals.timeS.length - 1] ? whenText(signals, fault) : 'through the whole log'}. A computer that goes by it gives about ${COLD_AIR_FUEL_PERCENT} % too much fuel in every cell, and holds no spark back in the heat. No cell is corrected by this log; check the plug, the wire and the sensor, then log again.`,
              data,
            });
          }
          const isAir = channel.quantity === 'intake-air-temperature',
            isCoolant = channel.quantity === 'coolant-temperature',
            isShut = still === 0 && (channel.quantity === 'injector-duty' || channel.quantity === 'injector-pulse-width'),
            isHotAir = isAir && still >= limitOf('intakeAirHotC', signals.vehicle.limits).value;
          const severity: Severity =
            isHotAir || (channel.quantity && LEANT_ON.has(channel.quantity) && !isShut) ? 'warning' : 'information';
          return spellFinding(signals, channel, fault, {
            code: 'channel-stuck',
            severity,
            message:
              fault.shape === 'never-moves'
                ? `${nameOf(channel)} keeps ${value} through the whole log while the engine is driven (${limitText(signals, isAir || isCoolant ? 'coldCoolantStillS' : 'stuckS')}). ${isAir ? 'The computer reckons the air by it, and with it the fuel of every cell. ' : ''}${isCoolant ? 'By it the engine is cold all the time, and no reading of this log is evidence on the table' : 'Nothing is concluded from it'}; check the sensor and whether the logger gets a live value.`
                : `${nameOf(channel)} stands still at ${value} ${whenText(signals, fault)} while the engine moves (${limitText(signals, isCoolant ? 'coldCoolantStillS' : 'stuckS')}). Nothing is concluded from it there; ${isShut ? 'where no second set of injectors or fuel feeds the engine meanwhile, check' : 'check the sensor and'} whether the logger gets a live value.${moreText(more)}`,
            data,
          });
        }),
      ),
    );
  },
};
