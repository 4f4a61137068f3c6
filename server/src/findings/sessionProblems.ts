// What a session's reader noticed, in words: the session half of the rules about how a file is written.

import { formatNumber } from '../quantities/format.js';
import { QUANTITIES, isQuantityId } from '../quantities/quantity.js';
import type { Problem } from '../formats/problem.js';
import type { Session } from '../formats/session/session.js';
import type { Finding, Severity } from './finding.js';

type Words = readonly [severity: Severity, message: string];
type Wording = (problem: Problem, session: Session) => Words;

const quoted = (problem: Problem): string => `"${shown(String(problem.data.text ?? ''))}"`;
const seconds = (value: unknown): string => `${formatNumber(Number(value), Math.abs(Number(value)) < 1 ? 3 : 1)} s`;
const list = (value: unknown, most = 4): string => {
  const items = Array.isArray(value) ? value.map((item) => shown(String(item))) : [];
  return items.length <= most ? items.join(', ') : `${items.slice(0, most).join(', ')} and ${items.length - most} more`;
};
const titleOf = (value: unknown): string =>
  isQuantityId(String(value)) ? QUANTITIES[String(value) as keyof typeof QUANTITIES].title : String(value);
const named = (problem: Problem): string => `"${shown(problem.channel ?? '')}"`;
const inRows = (problem: Problem): string => (problem.count === 1 ? 'this row' : `${problem.count} rows from here on`);
/** Text of a file in a message: no line breaks or control characters, not endless. */
const shown = (text: string): string => {
  // eslint-disable-next-line no-control-regex
  const clean = text.replace(/[\u0000-\u001f\u007f]+/g, '·');
  return clean.length > 60 ? `${clean.slice(0, 59)}…` : clean;
};

const assumedList = (problem: Problem): string => {
  const channels = problem.data.channels as readonly string[];
  const assumed = problem.data.assumed as readonly string[];
  return list(
    channels.map((channel, index) => `${channel} in ${assumed[index]}`),
    4,
  );
};

const onlyTime = (problem: Problem, session: Session): boolean => problem.count === 1 && problem.channel === session.time.channel;

/** What of a line of a capture is not as it should be. */
const NOT_A_FRAME: Readonly<Record<string, string>> = {
  clock: 'it does not begin with a clock in brackets',
  interface: 'the name of the interface is missing behind the clock',
  identifier: 'the identifier is not 3 or 8 hex digits before a #',
  data: 'the data are not whole hex bytes',
  length: 'it is too long',
  rest: 'something stands behind the data',
};
const INCOMPLETE: Readonly<Record<string, string>> = {
  lost: 'a frame of it is missing',
  beginning: 'it began before the capture, or its first frame is missing',
  end: 'the capture ends first',
  'too-long': 'it is longer than any OBD-II answer',
  short: 'the frame holds fewer bytes than it says',
};
const leftWords = (problem: Problem): string => {
  const { otherFrames, otherServices, refused } = problem.data;
  const unknown = problem.data.unknownIdentifiers as readonly string[];
  return [
    ...(otherFrames === 0 ? [] : [`${otherFrames} of other traffic than OBD-II`]),
    ...(otherServices === 0 ? [] : [`${otherServices} answers to services other than 01, 03, 07 and 0A`]),
    ...(refused === 0 ? [] : [`${refused} requests that a controller refused`]),
    ...(unknown.length === 0 ? [] : [`answers to identifiers that are not read (${list(unknown, 6)})`]),
  ].join(', ');
};

/** What a session is judged by: where no cell of such a column can be read, neither can the file. */
const JUDGED_BY: ReadonlySet<string | undefined> = new Set(['engine-speed', 'manifold-pressure', 'throttle', 'lambda', 'lambda-2']);
const unread = (problem: Problem, { channels, timeS }: Session): Severity =>
  problem.count > 1 &&
  problem.count >= timeS.length &&
  channels.some(({ header, quantity }) => header === problem.channel && JUDGED_BY.has(quantity))
    ? 'error'
    : 'warning';

/** By code and kind. */
const WORDINGS: Readonly<Record<string, Wording>> = {
  'value-not-a-number text': (p, session) => [
    p.data.known === false ? 'information' : unread(p, session),
    `${quoted(p)} in ${named(p)} is not a number (${inRows(p)}). It counts as no reading; look at the logger's wiring or export there.`,
  ],
  'value-not-a-number thousands': (p) => [
    'information',
    `${p.count === 1 ? 'A cell has' : `${p.count} cells have`} a sign between the thousands (${list(p.data.channels)}). ${quoted(p)} is read as ${p.data.value}: this file writes decimals with another.`,
  ],
  'value-not-a-number comma': (p, session) => [
    unread(p, session),
    `${quoted(p)} in ${named(p)} has a comma in a file whose cells are parted by commas (${inRows(p)}): a decimal comma or one between thousands, which cannot be told. It counts as no reading; export with decimal points and no thousands sign, or with semicolons between the cells.`,
  ],
  'value-not-a-number not-finite': (p) => [
    'warning',
    `${quoted(p)} in ${named(p)} is more than a number can hold (${inRows(p)}). It counts as no reading.`,
  ],
  'value-not-a-number placeholder': (p) => [
    'information',
    `${p.count === 1 ? 'A cell says' : `${p.count} cells say`} ${list(p.data.texts)} instead of a number (${list(p.data.channels)}). They count as blank.`,
  ],
  'value-not-a-number quote-unclosed': (p) => [
    'warning',
    `${p.count === 1 ? 'A quote opens here and never closes' : `${p.count} quotes open and never close, the first here`}. The row is read as if it were not there; check the text around it.`,
  ],
  'value-not-a-number not-a-frame': (p) => [
    'warning',
    `${p.count === 1 ? 'This line is' : `${p.count} lines from here on are`} no frame of a capture: ${NOT_A_FRAME[String(p.data.why)] ?? 'it is written otherwise'}. A frame reads "(seconds.microseconds) can0 7E8#03410D64". Left out; look whether something else was written into the file.`,
  ],
  'row-ragged incomplete-message': (p) => [
    p.data.why === 'beginning' || p.data.why === 'end' ? 'information' : 'warning',
    `An answer of ${p.data.controller} did not come in whole: ${INCOMPLETE[String(p.data.why)] ?? ''}. It is left out, with any trouble codes in it. If there are many, look at the adapter's plug and how busy the bus is.`,
  ],
  'row-ragged answer-short': (p) => [
    'warning',
    `${p.count === 1 ? 'An answer' : `${p.count} answers`} of ${p.data.controller} to ${p.data.of} ${p.count === 1 ? 'holds' : 'hold'} fewer bytes than SAE J1979 says. What is missing is left out.`,
  ],
  'row-ragged frame-cut-off': () => [
    'information',
    'The capture breaks off in this line, as when the logger loses power. The line is left out.',
  ],
  'row-ragged too-many-channels': (p) => [
    'warning',
    `The controllers of this capture answer with more readings than can be kept. The first ${p.data.kept} channels are read, the others are left out.`,
  ],
  'row-ragged too-few': (p) => [
    'warning',
    `${p.count === 1 ? 'This row has' : `${p.count} rows from here on have`} ${p.data.cells} cells where the header has ${p.data.expected}. The missing ones count as blank; check that none was dropped in the middle.`,
  ],
  'row-ragged too-many': (p) => [
    'error',
    `${p.count === 1 ? 'This row has' : `${p.count} rows from here on have`} ${p.data.cells} cells where the header has ${p.data.expected}, so values may stand under the wrong name. Check for a decimal comma in a file with commas between the cells.`,
  ],
  'row-ragged cut-off': (p) => [
    'information',
    `The file breaks off in this row, after ${p.data.cells} of ${p.data.expected} cells, as when the logger loses power. The cell that was being written is left out.`,
  ],
  'row-ragged too-long': (p) => [
    'error',
    `${p.count === 1 ? 'A line of several megabytes is no row of a log. It is' : `${p.count} lines of several megabytes are no rows of a log. They are`} left out; check that the file was copied whole.`,
  ],
  'row-ragged too-many-columns': (p) => [
    'warning',
    `The file has ${Number(p.data.kept) + Number(p.data.leftOut)} columns. The first ${p.data.kept} are read, ${p.data.leftOut} are left out.`,
  ],
  'header-duplicate same-name': (p) => [
    'warning',
    `Two columns are called ${named(p)} (columns ${p.data.firstColumn} and ${p.data.column}). The first is used (of speed, load and lambda the first that moves); rename the other if it is the better one.`,
  ],
  'header-duplicate turned': (p) => [
    'error',
    `A second header stands here, with its columns in another order, as where the logger was started anew. The ${p.data.rows} rows behind it are left out, for their columns mean something else: make a file of its own of them.`,
  ],
  // A logger that never writes units is a habit; one column without is an oversight.
  'unit-unknown missing': (p, session) => [
    p.data.noneInFile === true || onlyTime(p, session) ? 'information' : 'warning',
    p.data.noneInFile === true
      ? `No column says its unit. Assumed: ${assumedList(p)}. Compare one known reading, such as coolant temperature, before you trust the rest.`
      : `${p.count === 1 ? 'The unit is missing' : `${p.count} columns have no unit`}. Assumed: ${assumedList(p)}. Write the unit in brackets behind the name.`,
  ],
  'unit-unknown unknown': (p) => [
    'warning',
    `"${shown(String(p.data.text))}" is not a unit known for ${shown(String(p.data.name))}: ${p.data.assumed === '' ? 'the numbers are taken as they are' : `${p.data.assumed} is assumed`}. Check it before you trust anything said of this channel.${moreOf(p)}`,
  ],
  'unit-unknown unfit': (p) => [
    'warning',
    `${shown(String(p.data.name))} is logged in ${shown(String(p.data.text))}, which does not measure it, so it is not used. If it is the sensor's raw signal, give its scale under "channels" in vehicle.json.${moreOf(p)}`,
  ],
  'unit-unknown barometer-assumed': (p) => [
    'information',
    `${list(p.data.channels)} ${p.count === 1 ? 'is' : 'are'} counted from the air around the car, and nothing logs that. ${p.data.assumedKPa} kPa (sea level) is assumed; a note "# barometer: 98 kPa" sets it.`,
  ],
  'unit-unknown below-zero': (p) => [
    'warning',
    `${shown(String(p.data.name))} goes down to ${formatNumber(Number(p.data.least), 1)} ${p.data.written}, and an absolute pressure cannot go below zero. It is read as ${p.data.read}; write "(${p.data.read})" in the header.`,
  ],
  'unit-unknown sign-turned': (p) => [
    'information',
    `${shown(String(p.data.name))} is logged below zero. It is read as degrees taken back, so −3 counts as 3° of retard.`,
  ],
  'channel-missing empty': () => ['error', 'There is nothing in this file. Check that the logger saved it.'],
  'channel-missing binary': () => [
    'error',
    'This is not a text file, so no session can be read from it. Export it from the logger as CSV.',
  ],
  'channel-missing no-frames': () => [
    'error',
    'No line of this file is a frame as the can-utils logger writes it, such as "(1700000000.123456) can0 7E8#03410D64". Check that it is a raw capture (candump -l or -L).',
  ],
  'channel-missing no-answers': (p) => [
    'warning',
    `${p.data.frames === 1 ? 'The one frame of this capture holds' : `The ${p.data.frames} frames of this capture hold`} no answer to OBD-II service 01, 03, 07 or 0A (identifiers 7E8 to 7EF or 18DAF1xx). Record while a tester asks for readings.`,
  ],
  'channel-missing frames-left': (p) => [
    'information',
    `Of ${p.data.frames} frames in this capture some are counted and left, the first here: ${leftWords(p)}.`,
  ],
  'channel-missing no-rows': () => [
    'error',
    'There is a header but no reading below it. Check that the logger recorded and that the file was copied whole.',
  ],
  'channel-missing no-header': (p) => [
    'error',
    `The first row is numbers, so nothing says what the ${p.data.columns} columns are. Put a row of names and units above it.`,
  ],
  'channel-missing no-time': (p) => [
    p.data.stated === true ? 'information' : 'warning',
    `${p.data.unreadable === true ? `No cell of ${named(p)} reads as a time` : 'No column is a time'}. Rows are counted at ${formatNumber(Number(p.data.rateHz), Number(p.data.rateHz) % 1 === 0 ? 0 : 2)} a second, ${
      p.data.stated === true ? 'as the notes say.' : 'assumed: every duration is only as good as that. A note "# rate: 20 Hz" sets it.'
    }`,
  ],
  'channel-missing name-guessed': (p) => [
    'information',
    `"${shown(String(p.data.name))}" is taken for ${titleOf(p.data.quantity)}${p.data.clock === true ? ', the clock of this session' : ''}: a guess from the spelling. Name it under "channels" in vehicle.json to be sure.`,
  ],
  'time-reversed backward': (p) => [
    'error',
    `Time runs backward: ${p.data.steps} of ${p.data.rows} rows are older than the row before. Turn the rows round, the oldest first; until then nothing of this drive can be judged.`,
  ],
  'time-reversed step-back': (p) => [
    'warning',
    `The clock steps back from ${seconds(p.data.fromS)} to ${seconds(p.data.toS)} here. A new recording is taken to begin; look whether the logger restarted or two files were joined.${moreCount(p, 'more steps back')}`,
  ],
  'time-gap gap': (p) => [
    'warning',
    `Nothing was logged for ${seconds(p.data.gapS)} here; rows usually come every ${seconds(p.data.stepS)}. Whatever the engine did meanwhile is not judged. Check the logger's connection.${moreCount(p, 'more holes')}`,
  ],
  'time-repeated spread': (p) => [
    'information',
    p.data.copies === true
      ? `${p.count} of ${p.data.rows} rows are copies of the row before, time and readings alike: the logger writes rows again. They are no new readings and weigh nothing; the rows of one time are spread evenly until the next (${seconds(p.data.stepS)} apart). Set the logger to write each reading once.`
      : `The clock is too coarse for the rows: ${p.count} of ${p.data.rows} repeat the time before. They are spread evenly in between (${seconds(p.data.stepS)} apart), so times are good to about one tick of the clock.`,
  ],
  'time-repeated repeated': (p) => [
    'warning',
    `${p.count === 1 ? 'This row has' : `${p.count} rows have`} the same time as the row before. ${p.data.copies === true ? 'They are copies of it: readings were written twice' : 'Readings were doubled or the clock stood still'}; durations across them are not reliable.${moreCount(p, 'more such rows')}`,
  ],
};

const moreCount = (problem: Problem, what: string): string =>
  Number(problem.data.moreCount ?? 0) > 0 ? ` The file has ${problem.data.moreCount} ${what}.` : '';
const moreOf = (problem: Problem): string => (Number(problem.data.more ?? 0) > 0 ? ` ${problem.data.more} more columns are like it.` : '');

/** Findings for the problems of one code, at their places. */
export const sessionProblemFindings = (code: Finding['code'], session: Session): Finding[] =>
  session.problems.flatMap((problem) => {
    if (problem.code !== code) return [];
    const [severity, message] = WORDINGS[`${code} ${problem.kind}`]?.(problem, session) ?? ['warning', `${code}: ${problem.kind}`];
    const more = Number(problem.data.moreRuns ?? 0) > 0 ? ` The file has ${problem.data.moreCount} more of this kind in other places.` : '';
    const channel =
      problem.channel === session.time.channel && problem.channel !== undefined
        ? 'time'
        : (session.channels.find((each) => each.header === problem.channel)?.quantity ?? problem.channel);
    return [
      {
        code,
        severity,
        range: problem.range,
        message: `${message}${more}`,
        ...(channel === undefined ? {} : { channel }),
        ...(problem.timeS ? { timeS: problem.timeS } : {}),
        data: { kind: problem.kind, ...problem.data, count: problem.count },
      },
    ];
  });
