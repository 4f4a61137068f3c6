// The examples of the guide: the files that a page gives and the commands that it shows, run in a folder of their own, and what they print
// put back.

import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { leanspot } from '../cli/run.js';

export const ROOT = fileURLToPath(new URL('../../', import.meta.url));

/** A fenced block: its words behind the fence, and what it holds. */
const BLOCK = /^```(\S+)(?: (\S+))?\n([^]*?)^```$/gm;
/** The car that a page begins with: `<!-- in: samples/bramble-coupe -->`, or stands beside: `<!-- beside: samples/bramble-coupe -->`. */
const BEGINS = /<!-- (in|beside): (\S+) -->/;
const CUT = '…';

/**
 * The page with every output as it is now. ```` ```csv NAME ```` (or `json`) makes a file; a `console` block holds `$ leanspot …` lines,
 * each followed by what it prints, a status other than 0 in brackets behind it. Where a line `…` stands in the output, as many lines before
 * and behind it are kept as the page has.
 */
export async function refreshed(page: string): Promise<string> {
  const folder = mkdtempSync(join(tmpdir(), 'leanspot-docs-'));
  try {
    const begins = BEGINS.exec(page);
    if (begins) cpSync(join(ROOT, begins[2]), begins[1] === 'in' ? folder : join(folder, begins[2]), { recursive: true });
    let result = '';
    let at = 0;
    for (const match of page.matchAll(BLOCK)) {
      const [whole, kind, name, body] = match;
      result += page.slice(at, match.index);
      at = match.index + whole.length;
      if (kind === 'console') result += `\`\`\`console\n${await run(body, folder)}\`\`\``;
      else {
        result += whole;
        if (name !== undefined) put(join(folder, name), body);
      }
    }
    return result + page.slice(at);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

function put(path: string, text: string): void {
  mkdirSync(dirname(path), { recursive: true });
  writeFileSync(path, text);
}

async function run(body: string, cwd: string): Promise<string> {
  let result = '';
  for (const part of body.split(/^(?=\$ )/m)) {
    const [command, ...shown] = part.replace(/\n$/, '').split('\n');
    const [program, ...args] = words(command.replace(/^\$ (npx )?/, ''));
    if (program !== 'leanspot') throw new Error(`not a command of ours: ${command}`);
    const { status, stdout, stderr } = await leanspot(args, { cwd, env: { NO_COLOR: '1' } });
    const printed = `${stdout}${stderr}`
      .trimEnd()
      .split('\n')
      .map((line) => line.trimEnd());
    if (status !== 0) printed.push(`(exit status ${status})`);
    result += [command, ...cut(printed, shown)].filter((line, index) => index === 0 || printed.length > 1 || line !== '').join('\n') + '\n';
  }
  return result;
}

function cut(printed: readonly string[], shown: readonly string[]): readonly string[] {
  const at = shown.indexOf(CUT);
  if (at < 0) return printed;
  const behind = shown.length - at - 1;
  return at + behind + 1 >= printed.length ? printed : [...printed.slice(0, at), CUT, ...printed.slice(printed.length - behind)];
}

/** As a shell takes them apart: blanks, and single quotes around what belongs together. */
const words = (command: string): string[] => [...command.matchAll(/'([^']*)'|(\S+)/g)].map(([, quoted, plain]) => quoted ?? plain);

export const readPage = (name: string): string => readFileSync(join(ROOT, 'server/docs', name), 'utf8');
