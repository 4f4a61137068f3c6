// A launch limiter at work: told once a session, so that nobody looks for the fuel that lambda seems to miss there.

import { formatNumber } from '../quantities/format.js';
import { launchesOf } from '../signals/drive/launch.js';
import type { Signals, Span } from '../signals/signals.js';
import { lastsS } from '../signals/columns/spans.js';
import type { Finding } from './finding.js';
import { nameOf, spellFinding, timesOf, whenText } from './spell.js';

export const launchFindings = (signals: Signals): Finding[] => {
  const launches = launchesOf(signals).filter(({ isSure }) => isSure),
    channel = signals.channel('lambda') ?? signals.channel('lambda-2');
  if (launches.length === 0 || !channel) return [];
  const [first] = launches,
    { rpm, advanceDeg } = first;
  return [
    spellFinding(signals, channel, first, {
      code: 'value-implausible',
      severity: 'information',
      message:
        `The car stands with the throttle open and the engine held at ${formatNumber(rpm, 0)} rpm, its ignition at ${formatNumber(advanceDeg, 0)}° ${whenText(signals, first)}${
          launches.length > 1
            ? `, and ${launches.length - 1} times more (${formatNumber(
                launches.reduce((sum, span) => sum + lastsS(span, signals.timeS), 0),
                0,
              )} s in all)`
            : ''
        }: a launch limiter. ` +
        `What ${nameOf(channel)} reads then is mixture that goes by unburnt, and neither called lean nor evidence on the table.`,
      data: { kind: 'launch', spells: launches.map((span) => timesOf(signals, span)) },
    }),
  ];
};

/** Beside what is called lean while the ignition is not logged. */
export const launchWords = (signals: Signals, { from, to }: Span): string =>
  launchesOf(signals).some((launch) => launch.from < to && from < launch.to)
    ? ' The car stands here: a launch limiter that takes the spark reads lean as well, and a converter that holds the engine does not (log the ignition angle to tell).'
    : '';
