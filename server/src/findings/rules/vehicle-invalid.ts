// vehicle-invalid: something in vehicle.json cannot be read as what it is meant to be.

import { FUEL_NAMES } from '../../quantities/fuels.js';
import { QUANTITIES, type QuantityId } from '../../quantities/quantity.js';
import { UNITS } from '../../quantities/units.js';
import type { Problem } from '../../formats/problem.js';
import type { Finding, Rule, Severity } from '../finding.js';

const list = (value: unknown): string => (Array.isArray(value) ? value.map((each) => `"${each}"`).join(', ') : '');
const meant = (near: unknown): string => (typeof near === 'string' ? ` Is "${near}" meant?` : '');

const bounds = (low: number, high: number): string => {
  if (Number.isFinite(low) && Number.isFinite(high)) return `from ${low} to ${high}`;
  return Number.isFinite(high) ? `up to ${high}` : `from ${low}`;
};

const words = ({ kind, data }: Problem): readonly [Severity, string] => {
  const key = `"${String(data.key ?? '')}"`;
  const text = `"${String(data.text ?? '')}"`;
  switch (kind) {
    case 'empty':
      return [
        'error',
        'vehicle.json is empty. Write { } at least; until then nothing is known of the car and every limit is at its default.',
      ];
    case 'binary':
      return ['error', 'vehicle.json is not a text file. Nothing of it is read.'];
    case 'too-long':
      return ['error', `vehicle.json has more than ${data.most} characters. Nothing of it is read.`];
    case 'too-deep':
      return ['error', `vehicle.json is nested more than ${data.most} levels deep. Nothing of it is read.`];
    case 'syntax':
      return ['error', `This is not JSON: ${data.what}. What can be read around it still counts.`];
    case 'not-an-object':
      return ['error', `vehicle.json has to be one object { … }, and here is ${data.found}. Nothing of it is read.`];
    case 'wrong-type':
      return ['error', `${key} has to be ${data.expected}, and here is ${data.found}. It is left out until it is right.`];
    case 'not-one-of':
      return ['error', `${text} is not possible for ${key}: write one of ${list(data.allowed)}. It is left out until it is right.`];
    case 'bad-range':
      return [
        'error',
        data.rule
          ? `${key} needs ${data.rule}. It is left out until it is right.`
          : Number.isFinite(data.low) || Number.isFinite(data.high)
            ? `${data.text} is outside what ${key} can be, ${bounds(Number(data.low), Number(data.high))}. Check the unit; it is left out until it is right.`
            : `${key} is ${data.text}. It is left out until it is right.`,
      ];
    case 'missing-key':
      return ['error', `${key} lacks ${list(data.missing)} and is left out until it has it.`];
    case 'unknown-key':
      return [
        'warning',
        `${key} is not a key that is known here and changes nothing.${meant(data.near)}${Array.isArray(data.known) && data.known.length > 0 ? ` Known are for example ${list(data.known.slice(0, 8))}.` : ''}`,
      ];
    case 'duplicate-key':
      return ['warning', `${key} is written twice; the last one counts.`];
    case 'unknown-quantity':
      return ['error', `${text} is not a quantity that is known, so the column is read by its header alone.${meant(data.near)}`];
    case 'unknown-unit':
      return ['error', `The unit ${text} is not known, so this mapping is left out. ${usual(data.quantity)}`];
    case 'unit-mismatch':
      return [
        'error',
        `${text} cannot be a unit of ${data.quantity}, so this mapping is left out. For a raw signal give a "scale" of two points. ${usual(data.quantity)}`,
      ];
    case 'unknown-fuel':
      return [
        'error',
        `The fuel ${text} is not known. Known are E0 to E100, M0 to M100, ${FUEL_NAMES.join(', ')}; for another give "stoichAfr".`,
      ];
    case 'path-outside':
      return [
        'error',
        `${text} leads out of the folder of this vehicle (or begins at a drive or address) and is not read. Paths are relative to vehicle.json and stay below it.`,
      ];
    case 'too-many-wildcards':
      return [
        'error',
        `${text} has more wildcards than can be searched for in good time (${data.most} of *, fewer with many alternatives; no group that repeats), so it is not read. Write it shorter, or as several entries.`,
      ];
    case 'join-refused':
      return ['error', `"${data.first}" and "${data.second}" cannot be joined: ${data.why}. The second gives no evidence until they can.`];
    case 'table-misplaced':
      return [
        'error',
        `"${data.path}" under ${key} holds ${data.holds}, and here belongs ${data.wanted}. Look whether the paths are changed over or the table's "# quantity:" is a slip; until then nothing is judged by it.`,
      ];
    case 'sessions-unlisted':
      return [
        'information',
        `${unlisted(data.paths as readonly string[])} under "sessions" of vehicle.json: no evidence on the table, and not in the report. List such a file there, or give it a name that ends with .session.csv.`,
      ];
    case 'tables-unlisted':
      return [
        'information',
        `${listed(data.paths as readonly string[])} ${(data.paths as readonly string[]).length === 1 ? 'is a fuel table' : 'are fuel tables'} in this folder that "tables" of vehicle.json does not name${data.named === undefined ? ', and it names no other' : ` beside "${data.named}"`}: the sessions are evidence on ${data.named === undefined ? 'none' : 'that one alone'}. See which one the engine runs by and name it as "tables.fuel"; keep an earlier state in a folder "history", and give one that is used as well a key of its own under "tables".`,
      ];
    case 'too-many-files':
      return [
        'warning',
        `This vehicle has ${Number(data.most) + Number(data.left)} ${data.what}. The first ${data.most} by path are read, ${data.left} more ${data.left === 1 ? 'is' : 'are'} left out of its evidence, report and list. Move what is old out of its folder, or split it.`,
      ];
    default:
      return ['error', `${key} is not right.`];
  }
};

const listed = (paths: readonly string[]): string =>
  `${paths
    .slice(0, 5)
    .map((path) => `"${path}"`)
    .join(', ')}${paths.length > 5 ? ` and ${paths.length - 5} more` : ''}`;
const unlisted = (paths: readonly string[]): string =>
  `${listed(paths)} ${paths.length === 1 ? 'reads as a session and is' : 'read as sessions and are'} not listed`;

const usual = (quantity: unknown): string => {
  const { title, unit } = QUANTITIES[quantity as QuantityId] ?? {};
  return title && UNITS[unit].symbol ? `The usual unit of ${title} is ${UNITS[unit].symbol}.` : '';
};

export const rule: Rule = {
  code: 'vehicle-invalid',
  docs: {
    title: 'vehicle.json is not right',
    meaning:
      'A part of vehicle.json says nothing that can be used. It is left out and the rest counts, so a limit may stand at its default or a column may be read by its header alone.',
    computed:
      'The file is read as JSON and held against its schema: types, ranges, choices, known keys. Then fuels and units are looked up, scales and ranges have to make sense, paths have to stay in the folder, "tables.fuel" and "tables.target" have to hold what they say, and sessions to be joined need clocks that go together. ' +
      'An unknown key, one written twice, or more files in the folder than are read, is a warning; files that read as sessions and are not listed, and fuel tables that are not named though they hold what "tables.fuel" holds (or two of them where it is not written), are worth knowing; everything else is an error.',
    causes: [
      'A comma or bracket too many or too few',
      'A number in quotation marks',
      'A slip in a key or a quantity',
      "A number in another unit than the key's name says",
      'A path copied from the file manager',
      'Files of two drives under "join"',
    ],
    checkFirst: "The place that is underlined; the editor's completion shows what can stand there.",
    limits: [],
  },
  sample: () => ({
    firing: '=== vehicle.json\n{ "engine": { "cylinders": "four" } }\n',
    quiet: '=== vehicle.json\n{ "engine": { "cylinders": 4 }, "fuel": { "blend": "E85" }, "limits": { "leanUnderLoad": 0.04 } }\n',
  }),
  vehicle: ({ problems }) =>
    problems
      .filter(({ code }) => code === 'vehicle-invalid')
      .map((problem): Finding => {
        const [severity, message] = words(problem);
        const more = problem.count > 1 ? ` And ${problem.count - 1} more of this kind.` : '';
        return {
          code: 'vehicle-invalid',
          severity,
          range: problem.range,
          message: `${message.trim()}${more}`,
          data: { kind: problem.kind, ...problem.data },
        };
      }),
};
