// The reference pages that are written from the product itself: every command with its help, every setting and editor command from the
// manifest, and the hovers that the first steps show.

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { englishNames } from '../../server/src/formats/session/channelNames.js';
import { foreignNames } from '../../server/src/formats/session/foreignNames.js';
import { QUANTITIES, QUANTITY_IDS } from '../../server/src/quantities/quantity.js';
import { UNITS } from '../../server/src/quantities/units.js';
import { leanspot } from '../cli/run.js';
import { ROOT } from './docExamples.js';
import { hoverPages } from './makeHoverPages.js';

interface Property {
  readonly type?: string | readonly string[];
  readonly default?: unknown;
  readonly enum?: readonly string[];
  readonly minimum?: number;
  readonly maximum?: number;
  readonly scope?: string;
  readonly description?: string;
  readonly markdownDescription?: string;
}
interface Manifest {
  readonly contributes: {
    readonly commands: readonly { readonly command: string; readonly title: string; readonly category?: string }[];
    readonly configuration: { readonly properties: Readonly<Record<string, Property>> };
    readonly keybindings?: readonly { readonly command: string; readonly key: string }[];
  };
}

const readJson = <T>(name: string): T => JSON.parse(readFileSync(join(ROOT, name), 'utf8')) as T;

/** Every reference page by its file name. */
export async function referencePages(): Promise<Map<string, string>> {
  return new Map([
    ['commands.md', await commandsPage()],
    ['settings.md', settingsPage()],
    ['channels.md', channelsPage()],
    ...(await hoverPages()),
  ]);
}

/** So many names of a quantity are shown; the rest are of the same kind. */
const MOST_NAMES = 7;
const someOf = (names: readonly string[]): string => names.slice(0, MOST_NAMES).join(', ') + (names.length > MOST_NAMES ? ', …' : '');

function channelsPage(): string {
  const rows = QUANTITY_IDS.filter((id) => englishNames(id).length > 0).map(
    (id) => `| \`${id}\` | ${UNITS[QUANTITIES[id].unit].symbol} | ${someOf(englishNames(id))} | ${someOf(foreignNames(id))} |`,
  );
  return [
    '# Column names that are recognised',
    '',
    'Written from the product by `npm run docs`. The names of SAE J1979 are among them.',
    '',
    '- Order, case, joining signs and usual abbreviations do not matter: `MAP`, `manifold_pressure` and `Pressure Manifold` are one. The unit stands behind the name in brackets, or in a row of units.',
    '- `Bank 2`, `B2` or a 2 behind the name is the second bank, for lambda and trims (`lambda-2`, `short-term-fuel-trim-2`, `long-term-fuel-trim-2`). A sensor behind the catalyst is not read. Of two columns of one quantity the first is used, of speed, load and lambda the first that moves; two lambda gauges of one bank are held against each other, and a lambda with the number of a cylinder from 3 on is judged under load.',
    '- A column of any other name is not looked at: `check`, `weigh`, `correct` and the report name those. Map it by its exact header under `channels` in `vehicle.json`: `"WB2 volts": { "quantity": "lambda", "scale": [[0.5, 0.70], [4.5, 1.30]] }`; `{ "quantity": "other" }` says that it is none of these.',
    '- A column in per cent that is not recognised and moves as a fuel trim does is told, and no fuel is taken out by its log until `channels` says what it is.',
    '',
    '| quantity | kept in | such as | in German, French, Spanish, Italian, Portuguese, Dutch, Swedish |',
    '| --- | --- | --- | --- |',
    ...rows,
    '',
  ].join('\n');
}

async function helpOf(...args: string[]): Promise<string> {
  const { status, stdout, stderr } = await leanspot(['help', ...args], { env: { NO_COLOR: '1', COLUMNS: '100' } });
  if (status !== 0) throw new Error(stderr);
  return stdout.trimEnd();
}

async function commandsPage(): Promise<string> {
  const overview = await helpOf();
  const names = [...overview.matchAll(/^ {2}([a-z]+) .*<|^ {2}([a-z]+) \[options\]/gm)]
    .map(([, a, b]) => a ?? b)
    .filter((name) => name !== 'help');
  const sections = await Promise.all(
    [...new Set(names)].map(async (name) => ['', `## leanspot ${name}`, '', '```text', await helpOf(name), '```']),
  );
  return [
    '# Commands',
    '',
    'What `leanspot help` says, written from the program by `npm run docs`. In this checkout after `npm start`: `npx leanspot …`.',
    '',
    '```text',
    overview,
    '```',
    ...sections.flat(),
    '',
  ].join('\n');
}

function settingsPage(): string {
  const {
    contributes: { commands, configuration, keybindings = [] },
  } = readJson<Manifest>('package.json');
  const words = readJson<Record<string, string>>('package.nls.json');
  const said = (text: string | undefined): string =>
    (text ?? '')
      .replace(/^%(.+)%$/, (_, key: string) => words[key] ?? key)
      .replaceAll('|', '\\|')
      .replaceAll('\n', ' ');
  const settings = Object.entries(configuration.properties)
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([name, { type, default: byDefault, enum: values, minimum, maximum, description, markdownDescription }]) => {
      const allowed = values
        ? values.map((value) => `\`${value}\``).join(', ')
        : minimum !== undefined || maximum !== undefined
          ? `${minimum ?? '…'} to ${maximum ?? '…'}`
          : String(type ?? '');
      return `| \`${name}\` | ${said(markdownDescription ?? description)} | ${allowed} | \`${JSON.stringify(byDefault ?? null)}\` |`;
    });
  const acts = [...commands]
    .sort((a, b) => (a.command < b.command ? -1 : 1))
    .map(({ command, title, category }) => {
      const key = keybindings.find((binding) => binding.command === command)?.key;
      return `| ${category ? `${said(category)}: ` : ''}${said(title)} | \`${command}\` | ${key ? `\`${key}\`` : ''} |`;
    });
  return [
    '# Settings and commands of the editor',
    '',
    'Written from the manifest by `npm run docs`.',
    '',
    '## Settings',
    '',
    '| setting | what it does | values | default |',
    '| --- | --- | --- | --- |',
    ...settings,
    '',
    '## Commands',
    '',
    'The palette shows a command only where it can act.',
    '',
    '| command | id | key |',
    '| --- | --- | --- |',
    ...acts,
    '',
  ].join('\n');
}
