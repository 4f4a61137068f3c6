// The JSON of the command line is a contract of version 1: what was there stays there, under its name and of its kind. More may come beside it.

import assert from 'node:assert/strict';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { leanspot } from '../cli/run.js';
import { inFolder } from '../support/folder.js';
import { LEAN_CAR, sampleDrive } from '../support/sampleDrive.js';

/** The kinds of a value's parts: a list by what its entries have in common and what only some have (`?`). */
type Shape = string | { readonly [key: string]: Shape } | readonly Shape[];

const shapeOf = (value: unknown): Shape => {
  if (Array.isArray(value)) return value.length === 0 ? [] : [value.map(shapeOf).reduce(merged)];
  if (value !== null && typeof value === 'object') return Object.fromEntries(Object.entries(value).map(([key, part]) => [key, shapeOf(part)]));
  return value === null ? 'null' : typeof value;
};

/** What two entries of a list say together: kinds joined by `|`, keys that only one has marked `?`. */
const merged = (a: Shape, b: Shape): Shape => {
  if (typeof a === 'string' || typeof b === 'string') {
    const kinds = [a, b].flatMap((each) => (typeof each === 'string' ? each.split('|') : ['object']));
    return [...new Set(kinds)].sort().join('|');
  }
  if (Array.isArray(a) && Array.isArray(b)) return a.length === 0 ? b : b.length === 0 ? a : [merged(a[0] as Shape, b[0] as Shape)];
  const [one, other] = [a as Record<string, Shape>, b as Record<string, Shape>];
  const plain = (keys: Record<string, Shape>): Record<string, Shape> => Object.fromEntries(Object.entries(keys).map(([key, part]) => [key.replace(/\?$/, ''), part]));
  const [left, right] = [plain(one), plain(other)];
  return Object.fromEntries([...new Set([...Object.keys(left), ...Object.keys(right)])].map((key) => {
    const always = key in one && key in other;
    return [always ? key : `${key}?`, key in left && key in right ? merged(left[key]!, right[key]!) : (left[key] ?? right[key])!];
  }));
};

/** Keys of `kept` that `now` has no more, or of another kind. */
const broken = (kept: Shape, now: Shape | undefined, path: string): string[] => {
  if (now === undefined) return [`${path} is gone`];
  if (typeof kept === 'string') return typeof now === 'string' && now.split('|').every((kind) => kept.split('|').includes(kind)) ? [] : [`${path} was ${kept}, is ${JSON.stringify(now)}`];
  if (Array.isArray(kept)) return !Array.isArray(now) ? [`${path} is no list`] : kept.length === 0 ? [] : broken(kept[0] as Shape, now[0] as Shape, `${path}[]`);
  return Object.entries(kept).flatMap(([key, part]) => {
    const there = (now as Record<string, Shape>)[key] ?? (key.endsWith('?') ? (now as Record<string, Shape>)[key.slice(0, -1)] : undefined);
    return there === undefined && key.endsWith('?') ? [] : broken(part, there, `${path}.${key}`);
  });
};

const COMMANDS: Readonly<Record<string, readonly string[]>> = {
  check: ['check', '.', '--format', 'json', '--fail-on', 'never'],
  weigh: ['weigh', 'tables/ve.table.csv', '--format', 'json'],
  compare: ['compare', 'tables/ve.table.csv', '--before', 'sessions/cruise*.csv', '--after', 'sessions/later*.csv', '--format', 'json'],
  sarif: ['check', '.', '--format', 'sarif', '--fail-on', 'never'],
};

suite('trust: the contract of the JSON outputs', () => {
  for (const [name, args] of Object.entries(COMMANDS)) {
    test(name, () => inFolder(`${LEAN_CAR}=== sessions/later.session.csv\n${sampleDrive()}`, async (cwd) => {
      const { stdout, stderr } = await leanspot(args, { cwd });
      assert.notEqual(stdout, '', stderr);
      const parsed = JSON.parse(stdout) as { schema?: number; version?: string; findings?: { data: unknown }[] };
      // What a finding holds in `data` is its own affair: open by the contract.
      for (const finding of parsed.findings ?? []) finding.data = {};
      const now = shapeOf(parsed);
      const file = fileURLToPath(new URL(`./contract/${name}.json`, import.meta.url));
      if (!existsSync(file) || process.env.LEANSPOT_UPDATE) writeFileSync(file, `${JSON.stringify(now, null, 1)}\n`);
      assert.deepEqual(broken(JSON.parse(readFileSync(file, 'utf8')) as Shape, now, name), [], 'a change here is a new schema version');
      assert.equal(parsed.schema ?? parsed.version, name === 'sarif' ? '2.1.0' : 1);
    }));
  }

  test('the guard sees what is gone and what changed its kind', () => {
    const kept = shapeOf({ a: 1, list: [{ b: 'x' }, { b: null, c: 1 }] });
    assert.deepEqual(broken(kept, shapeOf({ a: 1, list: [{ b: 'x' }, { b: null, c: 1 }], more: 1 }), ''), []);
    assert.deepEqual(broken(kept, shapeOf({ a: '1', list: [{ c: 1 }] }), ''), ['.a was number, is "string"', '.list[].b is gone']);
  });
});
