// sensor-cold: a lambda sensor that did not read yet after the engine's start.

import { unjudgedFuel } from '../../signals/mixture/offTarget.js';
import { formatNumber, formatValue } from '../../quantities/format.js';
import { UNITS } from '../../quantities/units.js';
import { limitOf } from '../../formats/limits.js';
import { faultsByChannel } from '../../signals/faults/byChannel.js';
import type { Rule } from '../finding.js';
import { sampleLog, unrest } from '../sampleLog.js';
import { limitText, nameOf, spellFinding } from '../spell.js';

/** A sensor that sleeps for so many times the usual warm-up has a heater that wants a look. */
const SLEEPS_LONG = 2;

const idle = {
  'engine speed (rpm)': (t: number) => 900 + unrest(t, 12),
  'throttle (%)': (t: number) => 3 + unrest(t, 0.2),
  'manifold pressure (kPa)': (t: number) => 36 + unrest(t, 0.8),
};

export const rule: Rule = {
  code: 'sensor-cold',
  concerns: 'readings',
  docs: {
    title: 'Lambda sensor not awake yet',
    meaning:
      'Until its heater has brought it to about 750 °C a wideband sensor shows a fixed number or its stop. That is not the mixture, and no lean or rich finding is raised from it.',
    computed:
      "From the engine's start (or the recording's) the lambda channel stands at one value or at an end of its scale for 1.5 s or longer; the spell ends where it first moves and, coming from an end, has reached ordinary values. " +
      'Worth knowing; a warning when it takes longer than twice `sensorWarmUpS`.',
    causes: [
      'The log began with the sensor still warming up: usual',
      'A weak heater supply or ground, when it takes minutes',
      'A worn sensor',
    ],
    checkFirst: "Nothing for half a minute after power-up; beyond that the heater's fuse, supply and ground.",
    limits: ['sensorWarmUpS'],
  },
  sample: () => ({
    firing: `=== a.session.csv\n${sampleLog(20, 0.2, { ...idle, lambda: (t) => (t < 8 ? 1.6 : 1 + unrest(t, 0.01)) })}`,
    quiet: `=== a.session.csv\n${sampleLog(20, 0.2, { ...idle, lambda: (t) => 1 + unrest(t, 0.01) })}`,
  }),
  // Of rows in backward order each begins a recording, and that is told. A diesel's exhaust is nearly air from the first turn on.
  session: (signals) =>
    signals.session.problems.some(({ kind }) => kind === 'backward') || unjudgedFuel(signals) !== undefined
      ? []
      : [...faultsByChannel(signals, 'cold').values()].flat().map((fault) => {
          const awakeS = Number(fault.data.awakeAfterS);
          const long = awakeS > SLEEPS_LONG * limitOf('sensorWarmUpS', signals.vehicle.limits).value;
          return spellFinding(signals, fault.channel, fault, {
            code: 'sensor-cold',
            severity: long ? 'warning' : 'information',
            message:
              `${nameOf(fault.channel)} stands at ${formatValue(fault.value, UNITS.lambda)} ${awakeS < 0.95 ? 'at first' : `for the first ${formatNumber(awakeS, awakeS < 9.95 ? 1 : 0)} s of running`}: the sensor was not warm yet, and nothing is concluded from it.` +
              (long
                ? ` That is long (${limitText(signals, 'sensorWarmUpS')}, told from twice that): check the heater's fuse, supply and ground.`
                : ` Wait for it before a pull; it is a warning from twice what is usual (${limitText(signals, 'sensorWarmUpS')}).`),
            data: { awakeAfterS: awakeS, value: fault.value },
          });
        }),
};
