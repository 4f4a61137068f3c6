// Two lambda sensors plugged crosswise: told once a session, in the place of the misfire that the leaner bank looks like.

import { formatNumber } from '../quantities/format.js';
import { crossedSensors } from '../signals/mixture/crossedSensors.js';
import type { Signals } from '../signals/signals.js';
import type { Finding } from './finding.js';
import { nameOf, spellFinding } from './spell.js';

const percent = (value: number): string => `${value > 0 ? '+' : '−'}${formatNumber(Math.abs(value), 0)} %`;

export const crossedFindings = (signals: Signals): Finding[] => {
  const crossed = crossedSensors(signals);
  if (!crossed) return [];
  const {
      trim,
      percents: [first, second],
      lastsS,
    } = crossed,
    channel = signals.channel(trim)!;
  return [
    spellFinding(signals, channel, crossed, {
      code: 'value-implausible',
      severity: 'error',
      message:
        `The fuel trims of the two banks stand at opposite ends for ${formatNumber(lastsS, 0)} s (${percent(first)} and ${percent(second)}; ${nameOf(channel)} and that of bank 2), and hold neither bank: so do loops whose lambda sensors are plugged crosswise, each fuelling its bank by the other's reading. ` +
        'One bank runs far too lean, the other far too rich: no more pulls. Change the two plugs over before plugs, coils, injectors or the table are looked at.',
      data: { kind: 'sensors-crossed', percents: [first, second] },
    }),
  ];
};
