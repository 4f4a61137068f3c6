// sensor-mount: the vehicle file says that the lambda sensor sits where it does not see what the engine burns.

import type { Finding, Rule } from '../finding.js';
import { sampleLog, unrest } from '../sampleLog.js';
import { nameOf } from '../spell.js';

const log = `=== a.session.csv\n${sampleLog(6, 0.5, { 'engine speed (rpm)': (t) => 900 + unrest(t, 10), lambda: (t) => 1 + unrest(t, 0.01) })}`;

export const rule: Rule = {
  code: 'sensor-mount',
  docs: {
    title: 'Lambda sensor behind the catalyst or at the tailpipe',
    meaning: 'A catalyst stores oxygen and burns what is left, so a sensor behind it hides lean and rich moments. A probe at the tailpipe reads late, and lean at idle, where outside air flows back.',
    computed: 'From `lambdaSensor.mount` in vehicle.json; told once for each session with a lambda channel. Readings from behind a catalyst give no evidence on any cell.',
    causes: ['The only bung is the one for the second sensor', 'A clamp-on probe used for a quick look'],
    checkFirst: 'Whether the exhaust has a bung ahead of the catalyst, at least about 0.6 m from the ports; a bung is welded in an hour.',
    limits: [],
  },
  sample: {
    firing: `=== vehicle.json\n{ "lambdaSensor": { "mount": "downstream" } }\n${log}`,
    quiet: `=== vehicle.json\n{ "lambdaSensor": { "mount": "upstream" } }\n${log}`,
  },
  session: (signals) => {
    const { mount } = signals.vehicle.lambdaSensor;
    const channel = signals.channel('lambda') ?? signals.channel('lambda-2');
    if (!channel || mount === undefined || mount === 'upstream') return [];
    const finding: Finding = {
      code: 'sensor-mount', severity: mount === 'downstream' ? 'warning' : 'information', range: channel.headerRange, channel: channel.quantity ?? channel.name,
      message: mount === 'downstream'
        ? `${nameOf(channel)} comes from behind the catalyst (vehicle.json says "downstream"): it does not show what the engine burns and gives no evidence on any cell. Fit the sensor ahead of the catalyst before judging the fuel table.`
        : `${nameOf(channel)} comes from the tailpipe: it reads late, and lean at idle where air flows back. Put the probe at least half a metre up the pipe and trust it only under load.`,
      data: { mount },
    };
    return [finding];
  },
};
