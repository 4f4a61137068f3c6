// The JSON of the command line is a contract of version 1: what was there stays there, under its name and of its kind. More may come beside
// it.

import assert from 'node:assert/strict';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { leanspot } from '../cli/run.js';
import { inFolder } from '../support/folder.js';
import { LEAN_CAR, SAMPLE_TABLE, sampleDrive } from '../support/sampleDrive.js';

/** The kinds of a value's parts: a list by what its entries have in common and what only some have (`?`). */
type Shape = string | { readonly [key: string]: Shape } | readonly Shape[];

const shapeOf = (value: unknown): Shape => {
  if (Array.isArray(value)) return value.length === 0 ? [] : [value.map(shapeOf).reduce(merged)];
  if (value !== null && typeof value === 'object')
    return Object.fromEntries(Object.entries(value).map(([key, part]) => [key, shapeOf(part)]));
  return value === null ? 'null' : typeof value;
};

/** What two entries of a list say together: kinds joined by `|`, keys that only one has marked `?`. */
const merged = (a: Shape, b: Shape): Shape => {
  // What an object has in it counts for more than that it may be missing.
  if (a === 'null' && typeof b !== 'string') return b;
  if (b === 'null' && typeof a !== 'string') return a;
  if (typeof a === 'string' || typeof b === 'string') {
    const kinds = [a, b].flatMap((each) => (typeof each === 'string' ? each.split('|') : ['object']));
    return [...new Set(kinds)].sort().join('|');
  }
  if (Array.isArray(a) && Array.isArray(b)) return a.length === 0 ? b : b.length === 0 ? a : [merged(a[0] as Shape, b[0] as Shape)];
  const [one, other] = [a as Record<string, Shape>, b as Record<string, Shape>];
  const plain = (keys: Record<string, Shape>): Record<string, Shape> =>
    Object.fromEntries(Object.entries(keys).map(([key, part]) => [key.replace(/\?$/, ''), part]));
  const [left, right] = [plain(one), plain(other)];
  return Object.fromEntries(
    [...new Set([...Object.keys(left), ...Object.keys(right)])].map((key) => {
      const always = key in one && key in other;
      return [always ? key : `${key}?`, key in left && key in right ? merged(left[key]!, right[key]!) : (left[key] ?? right[key])!];
    }),
  );
};

/** Keys of `kept` that `now` has no more, or of another kind. */
const broken = (kept: Shape, now: Shape | undefined, path: string): string[] => {
  if (now === undefined) return [`${path} is gone`];
  if (typeof kept === 'string')
    return typeof now === 'string' && now.split('|').every((kind) => kept.split('|').includes(kind))
      ? []
      : [`${path} was ${kept}, is ${JSON.stringify(now)}`];
  if (Array.isArray(kept))
    return !Array.isArray(now) ? [`${path} is no list`] : kept.length === 0 ? [] : broken(kept[0] as Shape, now[0] as Shape, `${path}[]`);
  return Object.entries(kept).flatMap(([key, part]) => {
    const there = (now as Record<string, Shape>)[key] ?? (key.endsWith('?') ? (now as Record<string, Shape>)[key.slice(0, -1)] : undefined);
    return there === undefined && key.endsWith('?') ? [] : broken(part, there, `${path}.${key}`);
  });
};

interface Output {
  readonly args: readonly string[];
  /** Read instead of what is printed. */ readonly file?: string;
  readonly schema?: string;
}

const OUTPUTS: Readonly<Record<string, Output>> = {
  check: { args: ['check', '.', '--format', 'json', '--fail-on', 'never'] },
  weigh: { args: ['weigh', 'tables/ve.table.csv', '--format', 'json'] },
  compare: {
    args: ['compare', 'tables/ve.table.csv', '--before', 'sessions/cruise*.csv', '--after', 'sessions/later*.csv', '--format', 'json'],
  },
  diff: { args: ['diff', 'old.table.csv', 'tables/ve.table.csv', '--format', 'json'] },
  sarif: { args: ['check', '.', '--format', 'sarif', '--fail-on', 'never'], schema: '2.1.0' },
  evidence: {
    args: ['weigh', 'tables/ve.table.csv', '--sessions', 'sessions/cruise*.csv', '--save-evidence', 'kept.jsonl'],
    file: 'kept.jsonl',
  },
  baseline: { args: ['check', '.', '--baseline', 'known.json', '--write-baseline'], file: 'known.json' },
};

/** A table with a breakpoint that the present one has no more, and other values. */
const OLD_TABLE = SAMPLE_TABLE.replace('2000, 3000,', '2000, 2500, 3000,')
  .replace('52.0, 54.0', '50.0, 56.0, 57.0')
  .replace('70.0, 72.0', '70.0, 71.0, 72.0')
  .replace('82.0, 84.0', '82.0, 83.0, 84.0')
  .replace('90.0, 92.0', '90.0, 91.0, 92.0')
  .replace('87.0', '86.0');
const CAR = `${LEAN_CAR}=== sessions/later.session.csv\n${sampleDrive()}=== old.table.csv\n${OLD_TABLE}`;

/**
 * What is open by the contract: a finding's `data` is its own affair, and the reasons for which readings were left out are what they are.
 */
function withoutOpen(parsed: { findings?: { data?: unknown }[]; weight?: { leftOut?: unknown } }): void {
  for (const finding of parsed.findings ?? []) if (finding.data !== undefined) finding.data = {};
  if (parsed.weight) parsed.weight.leftOut = {};
}

const kept = (name: string): string => fileURLToPath(new URL(`./contract/${name}`, import.meta.url));

suite('trust: the contract of the JSON outputs', () => {
  for (const [name, { args, file: output, schema }] of Object.entries(OUTPUTS)) {
    test(name, () =>
      inFolder(CAR, async (cwd) => {
        const { stdout, stderr } = await leanspot(args, { cwd });
        assert.notEqual(stdout, '', stderr);
        const parsed = JSON.parse(output === undefined ? stdout : readFileSync(join(cwd, output), 'utf8')) as {
          schema?: number;
          version?: string;
          findings?: { data?: unknown }[];
          weight?: { leftOut?: unknown };
        };
        withoutOpen(parsed);
        const now = shapeOf(parsed);
        const file = kept(`${name}.json`);
        if (!existsSync(file) || process.env.LEANSPOT_UPDATE) writeFileSync(file, `${JSON.stringify(now, null, 1)}\n`);
        assert.deepEqual(broken(JSON.parse(readFileSync(file, 'utf8')) as Shape, now, name), [], 'a change here is a new schema version');
        assert.equal(parsed.schema ?? parsed.version, schema ?? 1);
      }),
    );
  }

  test('every command that writes JSON is held here', async () => {
    const withJson: string[] = [];
    for (const command of ['check', 'weigh', 'correct', 'compare', 'report', 'convert', 'diff', 'join', 'export']) {
      if (/\(choices:[^)]*"json"/.test((await leanspot([command, '--help'])).stdout.replace(/\s+/g, ' '))) withJson.push(command);
    }
    assert.deepEqual(withJson, ['check', 'weigh', 'compare', 'diff']);
    assert.ok(withJson.every((command) => command in OUTPUTS));
  });

  // What an earlier version wrote: the files lie here as they were written, and are never written anew.
  test('evidence kept by the first version is read, and tells what it told: 6 % short of fuel', () =>
    inFolder(LEAN_CAR, async (cwd) => {
      const { status, stdout, stderr } = await leanspot(
        ['weigh', 'tables/ve.table.csv', '--from-evidence', kept('first.evidence.jsonl'), '--format', 'json'],
        { cwd },
      );
      assert.equal(status, 0, stderr);
      const { cells } = JSON.parse(stdout) as {
        cells: { row: number; column: number; proof: string; factorLow: number; factorHigh: number }[];
      };
      const firm = cells.filter(({ proof }) => proof === 'firm');
      assert.deepEqual(
        firm.map(({ row, column }) => [row, column]),
        [
          [0, 0],
          [0, 1],
        ],
      );
      for (const { factorLow, factorHigh } of firm) assert.ok(factorLow < 1.06 && 1.06 < factorHigh, `${factorLow} to ${factorHigh}`);
    }));

  test('a baseline of the first version still lets its findings rest', () =>
    inFolder(LEAN_CAR, async (cwd) => {
      writeFileSync(join(cwd, 'known.json'), readFileSync(kept('first.baseline.json')));
      const { status, stdout } = await leanspot(['check', '.', '--baseline', 'known.json', '--fail-on', 'warning', '--format', 'json'], {
        cwd,
      });
      const { findings, resting } = JSON.parse(stdout) as { findings: { code: string }[]; resting: number };
      assert.equal(
        resting,
        (JSON.parse(readFileSync(kept('first.baseline.json'), 'utf8')) as { findings: unknown[] }).findings.length,
        JSON.stringify(findings),
      );
      assert.equal(status, 0);
    }));

  test('the guard sees what is gone and what changed its kind', () => {
    const kept = shapeOf({ a: 1, list: [{ b: 'x' }, { b: null, c: 1 }] });
    assert.deepEqual(broken(kept, shapeOf({ a: 1, list: [{ b: 'x' }, { b: null, c: 1 }], more: 1 }), ''), []);
    assert.deepEqual(broken(kept, shapeOf({ a: '1', list: [{ c: 1 }] }), ''), ['.a was number, is "string"', '.list[].b is gone']);
  });
});
