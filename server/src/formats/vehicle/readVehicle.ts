// From the text of vehicle.json to what is known of the car; everything wrong in it is told at its place, and the rest still counts.

import { Validator, type OutputUnit, type Schema as ValidatorSchema } from '@cfworker/json-schema';
import { fuelOf } from '../../quantities/fuels.js';
import { parseUnit } from '../../quantities/parseUnit.js';
import { isQuantityId, QUANTITY_IDS } from '../../quantities/quantity.js';
import { globInsideFolder, hasTooManyWildcards, insideFolder, MOST_WILDCARDS } from './folderPath.js';
import { keyOf, MOST_LEVELS, parseJson, pathOf, valueOf, type JsonNode, type JsonText, type Path } from './jsonText.js';
import { nearest } from './nearest.js';
import type { Problem } from '../problem.js';
import { HAS_RANGE } from '../plausible.js';
import { ProblemList } from '../problemList.js';
import { range, type Range } from '../range.js';
import { EMPTY_VEHICLE, type ChannelMapping, type JoinedFiles, type SessionGlob, type Vehicle, type VehicleDocument } from './vehicle.js';
import { schemaAt } from './schemaAt.js';
import { OTHER_QUANTITY, vehicleSchema, type Schema } from './vehicleSchema.js';

const MOST_CHARACTERS = 200_000;
const MOST_SYNTAX_PROBLEMS = 10;
const MOST_GUESSES = 50;

type Dictionary = Readonly<Record<string, unknown>>;

const validator = new Validator(vehicleSchema as ValidatorSchema, '7', false);

/** Keywords that only say that something further in is wrong. */
const OUTER = new Set(['properties', 'additionalProperties', 'items', 'patternProperties']);

const empty = (problems: readonly Problem[]): VehicleDocument => ({
  kind: 'vehicle',
  vehicle: EMPTY_VEHICLE,
  problems,
  rangeOf: () => undefined,
});

/**
 * Reads vehicle.json. Never throws. Problems are of code `vehicle-invalid`; their kinds: `empty`, `binary`, `too-long`, `too-deep`,
 * `syntax`, `not-an-object`, `wrong-type`, `not-one-of`, `bad-range`, `missing-key`, `unknown-key`, `duplicate-key`, `unknown-quantity`,
 * `unknown-unit`, `unit-mismatch`, `unknown-fuel`, `path-outside`, `too-many-wildcards`. A key that is wrong is left out of the vehicle (a
 * channel as a whole: half a mapping would read wrong numbers). Indices of `rangeOf(['sessions', i])` are those of `vehicle.sessions`.
 */
export const readVehicle = (text: string): VehicleDocument => {
  const problems = new ProblemList();
  const whole = (kind: string, data: Problem['data'] = {}): VehicleDocument => {
    problems.add({ code: 'vehicle-invalid', kind, range: range(0, 0, 0, /^[^\r\n]{0,80}/.exec(text)?.[0].length ?? 0), data });
    return empty(problems.all);
  };
  if (text.length > MOST_CHARACTERS) return whole('too-long', { most: MOST_CHARACTERS });
  if (text.includes('\0')) return whole('binary');
  if (/^[\s\ufeff]*$/.test(text)) return whole('empty');
  const json = parseJson(text);
  if (!json) return whole('too-deep', { most: MOST_LEVELS });
  const { root } = json;
  for (const error of json.errors.slice(0, root?.type === 'object' ? MOST_SYNTAX_PROBLEMS : 1)) {
    problems.add({ code: 'vehicle-invalid', kind: 'syntax', range: error.range, data: { what: error.what } });
  }
  if (root?.type !== 'object') {
    if (root)
      problems.add({
        code: 'vehicle-invalid',
        kind: 'not-an-object',
        range: json.rangeOf(root),
        data: { found: nameOfType(valueOf(root)) },
      });
    else if (json.errors.length === 0) return whole('empty');
    return empty(problems.all);
  }
  return new Reader(json, root, problems).read();
};

/** One reading: which paths were found wrong, and the vehicle made of the others. */
class Reader {
  private readonly wrong = new Set<string>();
  /** Paths that something further in is wrong of. */
  private readonly wrongInside = new Set<string>();
  private guesses = 0;
  private readonly value: Dictionary;

  constructor(
    private readonly json: JsonText,
    private readonly root: JsonNode,
    private readonly problems: ProblemList,
  ) {
    this.value = valueOf(root) as Dictionary;
  }

  read(): VehicleDocument {
    this.duplicates(this.root, []);
    this.bySchema();
    const sessions = this.sessions();
    const joins = this.joins();
    const vehicle: Vehicle = {
      ...(this.good(['name']) ? { name: this.value.name as string } : {}),
      engine: this.part('engine'),
      fuel: this.fuel(),
      injectors: this.part('injectors'),
      body: this.part('body'),
      weather: this.part('weather'),
      goal: this.part('goal'),
      lambdaSensor: this.lambdaSensor(),
      ...this.channels(),
      tables: this.tables(),
      sessions: sessions.map(({ session }) => session),
      joins: joins.map(({ join }) => join),
      ...this.limits(),
    };
    const places: Readonly<Record<string, readonly { readonly index: number }[]>> = { sessions, join: joins };
    // What was left out of a list does not count in it.
    const written = (path: Path): Path =>
      typeof path[1] === 'number' && Object.hasOwn(places, path[0])
        ? [path[0], places[path[0]][path[1]]?.index ?? -1, ...path.slice(2)]
        : path;
    return {
      kind: 'vehicle',
      vehicle,
      problems: this.problems.all,
      rangeOf: (path) => {
        const node = this.json.at(written(path));
        return node && this.json.rangeOf(node);
      },
    };
  }

  private rangeOf(path: Path): Range {
    const node = this.json.at(path);
    return node ? this.json.rangeOf(node) : path.length > 0 ? this.rangeOf(path.slice(0, -1)) : range(0, 0, 0, 1);
  }

  private keyRange(path: Path): Range {
    const key = this.json.at(path)?.parent?.children?.[0];
    return key ? this.json.rangeOf(key) : this.rangeOf(path);
  }

  private tell(kind: string, path: Path, data: Problem['data'] = {}, place = this.rangeOf(path)): void {
    this.problems.add({ code: 'vehicle-invalid', kind, range: place, data: { key: path.join('.'), ...data } });
    this.wrong.add(JSON.stringify(path));
    // An unknown key does not spoil what it stands in.
    if (kind !== 'unknown-key') for (let i = 1; i < path.length; i++) this.wrongInside.add(JSON.stringify(path.slice(0, i)));
  }

  private duplicates(node: JsonNode, path: Path): void {
    const seen = new Set<string>();
    for (const { children } of node.type === 'object' ? (node.children ?? []) : []) {
      if (!children) continue;
      const key = keyOf(children[0]);
      if (seen.has(key)) {
        this.problems.add({
          code: 'vehicle-invalid',
          kind: 'duplicate-key',
          range: this.json.rangeOf(children[0]),
          data: { key: [...path, key].join('.') },
        });
      }
      seen.add(key);
      if (children.length > 1) this.duplicates(children[1], [...path, key]);
    }
  }

  /** Types, ranges, choices and unknown keys, as the schema has them. */
  private bySchema(): void {
    // Where one of several forms is wanted, what each form finds wrong further in is no news: the choice itself is told.
    const errors = validator.validate(this.value).errors.filter(({ keyword }) => !OUTER.has(keyword));
    const choices = errors.filter(({ keyword }) => keyword === 'anyOf').map(({ instanceLocation }) => instanceLocation);
    const told = new Set<string>();
    for (const error of errors) {
      if (error.keyword !== 'anyOf' && choices.some((at) => error.instanceLocation === at || error.instanceLocation.startsWith(`${at}/`)))
        continue;
      const path = pathOf(error.instanceLocation, this.root);
      const key = error.instanceLocation + (error.keyword === 'required' ? error.error : '');
      if (told.has(key)) continue; // a wrong type fails its range as well
      told.add(key);
      this.tellError(error, path);
    }
    this.finite(this.value, []);
  }

  private tellError(error: OutputUnit, path: Path): void {
    const schema = schemaAt(path);
    const value = this.json.at(path) ? valueOf(this.json.at(path)!) : undefined;
    const shown = typeof value === 'string' || typeof value === 'number' ? String(value).slice(0, 60) : '';
    switch (error.keyword) {
      case 'false': {
        const siblings = Object.keys(schemaAt(path.slice(0, -1))?.properties ?? {});
        const near = this.guesses++ < MOST_GUESSES ? nearest(String(path[path.length - 1]), siblings) : undefined;
        return this.tell('unknown-key', path, near ? { near } : { known: siblings.slice(0, 12) }, this.keyRange(path));
      }
      case 'enum':
        if (path[0] === 'channels') return this.tell('unknown-quantity', path, { text: shown, ...maybeNear(shown, QUANTITY_IDS) });
        return this.tell('not-one-of', path, { text: shown, allowed: schema?.enum ?? [] });
      case 'minimum':
      case 'maximum':
      case 'exclusiveMinimum':
        return this.tell('bad-range', path, {
          text: shown,
          low: schema?.minimum ?? schema?.exclusiveMinimum ?? -Infinity,
          high: schema?.maximum ?? Infinity,
        });
      case 'required':
        return this.tell('missing-key', path, {
          missing: (schema?.required ?? []).filter((key) => !Object.hasOwn(value as Dictionary, key)),
        });
      default:
        return this.tell('wrong-type', path, {
          expected: expectedBy(schema),
          found: error.keyword === 'minLength' ? 'an empty text' : nameOfType(value),
          text: shown,
        });
    }
  }

  /** JSON can write numbers that no double holds. */
  private finite(value: unknown, path: Path): void {
    if (typeof value === 'number' && !Number.isFinite(value)) {
      if (!this.wrong.has(JSON.stringify(path)))
        this.tell('bad-range', path, { text: 'more than a number can hold', low: -Infinity, high: Infinity });
    } else if (Array.isArray(value)) value.forEach((each, i) => this.finite(each, [...path, i]));
    else if (typeof value === 'object' && value !== null)
      for (const key of Object.keys(value)) this.finite((value as Dictionary)[key], [...path, key]);
  }

  /** Whether something is written at a path and nothing at it, above it or in it is wrong. */
  private good(path: Path): boolean {
    if (!this.json.at(path)) return false;
    for (let i = 0; i < path.length; i++) if (this.wrong.has(JSON.stringify(path.slice(0, i + 1)))) return false;
    return !this.wrongInside.has(JSON.stringify(path));
  }

  private at(path: Path): unknown {
    return path.reduce<unknown>(
      (value, key) => (typeof value === 'object' && value !== null ? (value as Record<string | number, unknown>)[key] : undefined),
      this.value,
    );
  }

  /** The known keys of a part that are right. */
  private part<Part>(name: string): Part {
    const keys = Object.keys(schemaAt([name])?.properties ?? {}).filter((key) => this.good([name, key]));
    return Object.fromEntries(keys.map((key) => [key, this.at([name, key])])) as Part;
  }

  private fuel(): Vehicle['fuel'] {
    const { blend, ...rest } = this.part<Vehicle['fuel']>('fuel');
    if (blend === undefined) return rest;
    if (fuelOf(blend)) return { ...rest, blend };
    this.tell('unknown-fuel', ['fuel', 'blend'], { text: blend.slice(0, 60) });
    return rest;
  }

  private lambdaSensor(): Vehicle['lambdaSensor'] {
    const { range: limits, transportDelay, ...rest } = this.part<Vehicle['lambdaSensor']>('lambdaSensor');
    const rising = Array.isArray(transportDelay)
      ? (transportDelay as readonly (readonly number[])[]).every(
          ([flow, delay], i, all) => delay >= 0 && delay <= 5 && (i === 0 || flow > all[i - 1][0]),
        )
      : true;
    if (!rising)
      this.tell('bad-range', ['lambdaSensor', 'transportDelay'], {
        text: '',
        rule: 'flows that rise from pair to pair and delays of 0 to 5 s',
      });
    const ordered = limits === undefined || (limits[0] > 0 && limits[0] < 1 && limits[1] >= 1);
    if (!ordered)
      this.tell('bad-range', ['lambdaSensor', 'range'], {
        text: '',
        rule: 'the lowest lambda, between 0 and 1, before the highest, 1 or more (lambda, not AFR)',
      });
    return {
      ...rest,
      ...(limits && ordered ? { range: limits } : {}),
      ...(transportDelay !== undefined && rising ? { transportDelay } : {}),
    };
  }

  private limits(): Pick<Vehicle, 'limits' | 'plausible'> {
    const { plausible: _ranges, ...limits } = this.part<Vehicle['limits'] & { plausible?: unknown }>('limits');
    const ranges = HAS_RANGE.flatMap((id) => {
      const path = ['limits', 'plausible', id];
      if (!this.good(path)) return [];
      const [low, high] = this.at(path) as [number, number];
      if (low < high) return [[id, [low, high]]];
      this.tell('bad-range', path, { text: '', rule: 'the lowest before the highest' });
      return [];
    });
    return { limits, ...(ranges.length > 0 ? { plausible: Object.fromEntries(ranges) as Vehicle['plausible'] } : {}) };
  }

  private channels(): Pick<Vehicle, 'channels' | 'others'> {
    const channels = new Map<string, ChannelMapping>(),
      others: string[] = [];
    const written = this.at(['channels']);
    if (typeof written !== 'object' || written === null || Array.isArray(written)) return { channels };
    for (const header of Object.keys(written)) {
      const path = ['channels', header];
      if (!this.good(path)) continue;
      const { quantity, unit, scale } = this.at(path) as Omit<ChannelMapping, 'quantity'> & { readonly quantity: string };
      if (!isQuantityId(quantity)) {
        if (quantity === OTHER_QUANTITY) others.push(header);
        continue;
      }
      if (unit !== undefined && !parseUnit(unit, quantity)) {
        this.tell(parseUnit(unit) ? 'unit-mismatch' : 'unknown-unit', [...path, 'unit'], { text: unit.slice(0, 60), quantity });
      } else if (scale && scale[0][0] === scale[1][0]) {
        this.tell('bad-range', [...path, 'scale'], { text: '', rule: 'two different raw values' });
      } else channels.set(header, { quantity, ...(unit === undefined ? {} : { unit }), ...(scale ? { scale } : {}) });
    }
    return { channels, ...(others.length > 0 ? { others } : {}) };
  }

  private inside(path: Path, text: string, check: (text: string) => string | undefined): string | undefined {
    const clean = check(text);
    if (clean !== undefined) return clean;
    if (check === globInsideFolder && hasTooManyWildcards(text))
      this.tell('too-many-wildcards', path, { text: text.slice(0, 200), most: MOST_WILDCARDS });
    else this.tell('path-outside', path, { text: text.slice(0, 200) });
    return undefined;
  }

  private tables(): Vehicle['tables'] {
    const written = this.at(['tables']);
    const tables: Record<string, string> = {};
    if (typeof written !== 'object' || written === null || Array.isArray(written)) return tables;
    for (const role of Object.keys(written)) {
      const path = this.good(['tables', role])
        ? this.inside(['tables', role], this.at(['tables', role]) as string, insideFolder)
        : undefined;
      if (path !== undefined) Object.defineProperty(tables, role, { value: path, enumerable: true, configurable: true, writable: true });
    }
    return tables;
  }

  private sessions(): { session: SessionGlob; index: number }[] {
    const written = this.at(['sessions']);
    if (!Array.isArray(written)) return [];
    return written.flatMap((each: unknown, index) => {
      const path = ['sessions', index];
      if (!this.good(path)) return [];
      if (typeof each === 'string') {
        const files = this.inside(path, each, globInsideFolder);
        return files === undefined ? [] : [{ session: { files }, index }];
      }
      const { files: glob, loggedWith: table } = each as SessionGlob;
      const files = this.inside([...path, 'files'], glob, globInsideFolder);
      if (files === undefined) return [];
      const loggedWith = table === undefined ? undefined : this.inside([...path, 'loggedWith'], table, insideFolder);
      return [{ session: { files, ...(loggedWith === undefined ? {} : { loggedWith }) }, index }];
    });
  }

  private joins(): { join: JoinedFiles; index: number }[] {
    const written = this.at(['join']);
    if (!Array.isArray(written)) return [];
    return written.flatMap((each: unknown, index) => {
      if (!this.good(['join', index])) return [];
      const [first, second] = (each as string[]).map((path, at) => this.inside(['join', index, at], path, insideFolder));
      return first === undefined || second === undefined ? [] : [{ join: { first, second }, index }];
    });
  }
}

const maybeNear = (text: string, known: readonly string[]): Problem['data'] => {
  const near = nearest(text, known);
  return near ? { near } : {};
};

const TYPE_WORDS: Readonly<Record<string, string>> = {
  object: 'an object { … }',
  array: 'a list [ … ]',
  string: 'a text',
  number: 'a number',
  integer: 'a whole number',
};
const expectedBy = (schema: Schema | undefined): string => schema?.title ?? TYPE_WORDS[schema?.type ?? ''] ?? 'something else';

const nameOfType = (value: unknown): string => {
  if (value === null) return 'null';
  if (Array.isArray(value)) return 'a list';
  return (
    ({ object: 'an object', string: 'a text', number: 'a number', boolean: 'true or false' } as Record<string, string>)[typeof value] ??
    'nothing'
  );
};
