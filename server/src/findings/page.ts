// A finding's page in Markdown, from what the rule says of itself. The pages in server/docs/findings are this, written out.

import { LIMITS } from '../formats/limits.js';
import { HAS_RANGE } from '../formats/plausible.js';
import { QUANTITIES } from '../quantities/quantity.js';
import { UNITS } from '../quantities/units.js';
import { COMPUTED_HEADING, type Rule } from './finding.js';

/** The whole page; ends with a line break. */
export function findingPage({ code, docs }: Rule): string {
  const limits = docs.limits.map((id) => {
    const { default: value, unit, meaning, source } = LIMITS[id];
    return `| \`${id}\` | ${value} ${unit} | ${meaning} | ${source} |`;
  });
  return [
    `# ${docs.title}`,
    '',
    `\`${code}\``,
    '',
    '## What it means',
    '',
    docs.meaning,
    '',
    '## What to check first',
    '',
    docs.checkFirst,
    '',
    '## What usually causes it',
    '',
    ...docs.causes.map((cause) => `- ${cause}`),
    '',
    COMPUTED_HEADING,
    '',
    docs.computed,
    '',
    ...(limits.length === 0
      ? []
      : [
          'Limits, each of which `"limits"` in `vehicle.json` can set:',
          '',
          '| limit | default | meaning | source |',
          '| --- | --- | --- | --- |',
          ...limits,
          '',
        ]),
    ...(docs.ranges ? RANGES : []),
    '## To silence it',
    '',
    `\`# ignore: ${code}\` at the head of the file${rowIgnore(code)}.`,
    '',
  ].join('\n');
}

const RANGES: readonly string[] = [
  'What is plausible, which `"limits": { "plausible": { "coolant-temperature": [-40, 160] } }` in `vehicle.json` can set for each quantity (common practice, no source):',
  '',
  '| quantity | lowest | highest | unit |',
  '| --- | --- | --- | --- |',
  ...HAS_RANGE.map((id) => {
    const {
      unit,
      plausible: [low, high],
    } = QUANTITIES[id];
    return `| \`${id}\` | ${low} | ${high} | ${UNITS[unit].symbol} |`;
  }),
  '',
];

const rowIgnore = (code: string): string =>
  /^(cell|axis|target)-/.test(code) ? `, or \`# ignore ${code}\` behind a row of the table` : '';
