// The reference pages that are written from the product itself: every command with its help, every setting and editor command from the manifest,
// and the hovers that the first steps show.

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { leanspot } from '../cli/run.js';
import { ROOT } from './docExamples.js';
import { hoverPages } from './makeHoverPages.js';

interface Property { readonly type?: string | readonly string[]; readonly default?: unknown; readonly enum?: readonly string[]; readonly minimum?: number; readonly maximum?: number; readonly scope?: string; readonly description?: string; readonly markdownDescription?: string }
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
  return new Map([['commands.md', await commandsPage()], ['settings.md', settingsPage()], ...await hoverPages()]);
}

async function helpOf(...args: string[]): Promise<string> {
  const { status, stdout, stderr } = await leanspot(['help', ...args], { env: { NO_COLOR: '1', COLUMNS: '100' } });
  if (status !== 0) throw new Error(stderr);
  return stdout.trimEnd();
}

async function commandsPage(): Promise<string> {
  const overview = await helpOf();
  const names = [...overview.matchAll(/^ {2}([a-z]+) .*<|^ {2}([a-z]+) \[options\]/gm)].map(([, a, b]) => a ?? b).filter((name) => name !== 'help');
  const sections = await Promise.all([...new Set(names)].map(async (name) => ['', `## leanspot ${name}`, '', '```text', await helpOf(name), '```']));
  return ['# Commands', '', 'What `leanspot help` says, written from the program by `npm run docs`. In this checkout after `npm start`: `npx leanspot …`.', '', '```text', overview, '```', ...sections.flat(), ''].join('\n');
}

function settingsPage(): string {
  const { contributes: { commands, configuration, keybindings = [] } } = readJson<Manifest>('package.json');
  const words = readJson<Record<string, string>>('package.nls.json');
  const said = (text: string | undefined): string => (text ?? '').replace(/^%(.+)%$/, (_, key: string) => words[key] ?? key).replaceAll('|', '\\|').replaceAll('\n', ' ');
  const settings = Object.entries(configuration.properties).sort(([a], [b]) => (a < b ? -1 : 1)).map(([name, { type, default: byDefault, enum: values, minimum, maximum, description, markdownDescription }]) => {
    const allowed = values ? values.map((value) => `\`${value}\``).join(', ') : minimum !== undefined || maximum !== undefined ? `${minimum ?? '…'} to ${maximum ?? '…'}` : String(type ?? '');
    return `| \`${name}\` | ${said(markdownDescription ?? description)} | ${allowed} | \`${JSON.stringify(byDefault ?? null)}\` |`;
  });
  const acts = [...commands].sort((a, b) => (a.command < b.command ? -1 : 1)).map(({ command, title, category }) => {
    const key = keybindings.find((binding) => binding.command === command)?.key;
    return `| ${category ? `${said(category)}: ` : ''}${said(title)} | \`${command}\` | ${key ? `\`${key}\`` : ''} |`;
  });
  return [
    '# Settings and commands of the editor', '', 'Written from the manifest by `npm run docs`.', '',
    '## Settings', '', '| setting | what it does | values | default |', '| --- | --- | --- | --- |', ...settings, '',
    '## Commands', '', 'The palette shows a command only where it can act.', '', '| command | id | key |', '| --- | --- | --- |', ...acts, '',
  ].join('\n');
}
