// channel-missing: what a session does not tell, and so what cannot be judged in it.

import type { Rule, Finding } from '../finding.js';
import type { Signals } from '../../signals/signals.js';
import { likeTrims } from '../../signals/mixture/untoldTrims.js';
import type { QuantityId } from '../../quantities/quantity.js';
import { sessionProblemFindings } from '../sessionProblems.js';

const LOAD: readonly QuantityId[] = [
  'manifold-pressure',
  'mass-air-flow',
  'mass-air-flow-signal',
  'engine-load',
  'throttle',
  'injector-pulse-width',
];
const MIXTURE: readonly QuantityId[] = [
  'lambda',
  'lambda-2',
  'short-term-fuel-trim',
  'long-term-fuel-trim',
  'short-term-fuel-trim-2',
  'long-term-fuel-trim-2',
];

/** Logged to judge the engine under load by. */
const JUDGED: readonly QuantityId[] = ['lambda', 'lambda-2', 'manifold-pressure', 'fuel-pressure'];

/** What a session needs, and what stays unjudged without it. */
const NEEDS: readonly { readonly kind: string; readonly any: readonly QuantityId[]; readonly what: string; readonly without: string }[] = [
  {
    kind: 'no-engine-speed',
    any: ['engine-speed'],
    what: 'engine speed',
    without: 'nothing under load can be judged, and neither pulls nor cells of the fuel table can be found',
  },
  {
    kind: 'no-load',
    any: LOAD,
    what: 'engine load (manifold pressure, air mass, load or throttle)',
    without: 'nothing tells when the engine works hard, so lean and rich under load are not judged',
  },
  { kind: 'no-mixture', any: MIXTURE, what: 'mixture (lambda or a fuel trim)', without: 'nothing is said about fuelling' },
];

/** Without it a mixture at its target may be held there. */
const unreadTrims = ({ session, channel }: Signals): Finding[] =>
  ((channel('lambda') ?? channel('lambda-2')) ? likeTrims(session) : []).map(({ header, headerRange }) => ({
    code: 'channel-missing',
    severity: 'information',
    range: headerRange,
    channel: header,
    message:
      `"${header.slice(0, 60)}" is not recognised and looks like a fuel trim: in per cent, near nought, in small steps. Nobody looks at it, so it may hold the mixture where it stands, and no correction takes fuel out by this log. ` +
      'Say what it is under "channels" in vehicle.json: "short-term-fuel-trim", "long-term-fuel-trim", or "other" where it is none of the known quantities.',
    data: { kind: 'trim-unread' },
  }));

const missing = ({ session, channel }: Signals): Finding[] => {
  if (session.samples === 0) return [];
  const lacking = NEEDS.filter((need) => need.any.every((quantity) => (channel(quantity)?.filled ?? 0) === 0));
  const capture = session.channels.some(({ unitFrom }) => unitFrom === 'standard');
  // A tuner's log with mixture or pressure in it was made to judge pulls by: without engine speed silence would look like a clean bill.
  const meant = JUDGED.some((quantity) => (channel(quantity)?.filled ?? 0) > 0);
  // Nothing of it at all: the cells are parted otherwise, or it is no session.
  const unread = session.time.channel === undefined && session.channels.every(({ quantity }) => quantity === undefined);
  return lacking.map(({ kind, what, without }) => ({
    code: 'channel-missing',
    severity: unread ? 'error' : lacking.length === NEEDS.length || (kind === 'no-engine-speed' && meant) ? 'warning' : 'information',
    range: session.headerRange,
    message: capture
      ? `No answer in this capture tells ${what}: ${without}. Have the tester ask for it next time.`
      : `No column with readings is known as ${what}: ${without}. If it is there under another name, map it under "channels" in vehicle.json.`,
    data: { kind },
  }));
};

export const rule: Rule = {
  code: 'channel-missing',
  docs: {
    title: 'Something needed is not logged',
    meaning:
      'The session lacks a clock, engine speed, a measure of load or a measure of the mixture. What rests on it is not judged, and silence about it means nothing.',
    computed:
      'Columns are known by their names (plain English, SAE J1979 and J1930) or by the "channels" of vehicle.json. Without a clock, rows are counted at the rate that a note states, else at 10 a second, ' +
      'and that is told. A name that is only near to a known one is told as a guess, and so is a column in a unit of time that rises from row to row where no other is the clock. Where engine speed is missing beside lambda or a pressure it is a warning. A column in per cent that is not recognised, stays near nought and moves in small steps is told as a possible fuel trim. An empty file, one without a header and one without readings are told here too. ' +
      'Of a raw CAN capture, frames of other traffic than OBD-II and answers to other services are counted.',
    causes: [
      'The channel was not chosen in the logger',
      'It is there under a name that is not known',
      'The file is not a session, or was not saved whole',
    ],
    checkFirst: 'Look through the header for the channel under another name and map it in vehicle.json.',
    limits: [],
  },
  sample: () => ({
    firing: '=== a.session.csv\nTime (s),Engine speed (rpm),Coolant temperature (degC)\n0,900,80\n0.1,905,80\n',
    quiet: '=== a.session.csv\nTime (s),Engine speed (rpm),Manifold pressure (kPa),Lambda\n0,900,35,1.0\n0.1,905,35,1.0\n',
  }),
  session: function* (signals) {
    yield* sessionProblemFindings('channel-missing', signals.session);
    yield* missing(signals);
    yield* unreadTrims(signals);
  },
};
