// vehicle.json: what is right is read, what is wrong is told at its place, and nothing throws.

import assert from 'node:assert/strict';
import { Validator } from '@cfworker/json-schema';
import fc from 'fast-check';
import { insideFolder, globInsideFolder } from '../../server/src/formats/vehicle/folderPath.js';
import { LIMITS } from '../../server/src/formats/limits.js';
import { QUANTITY_IDS } from '../../server/src/quantities/quantity.js';
import { readVehicle } from '../../server/src/formats/vehicle/readVehicle.js';
import { EMPTY_VEHICLE, type VehicleDocument } from '../../server/src/formats/vehicle/vehicle.js';
import { vehicleFuel } from '../../server/src/formats/vehicle/vehicleFuel.js';
import { guideOf, vehicleSchema, type Schema } from '../../server/src/formats/vehicle/vehicleSchema.js';
import type { Range } from '../../server/src/formats/range.js';

const CONTRACT = `{
  "name": "Hill-climb coupe",
  "engine": { "displacementL": 1.998, "cylinders": 4, "revLimitRpm": 7200,
              "aspiration": "supercharged", "maxManifoldPressureKPa": 190 },
  "fuel": { "blend": "E10" },
  "injectors": { "flowCcPerMin": 650, "ratedPressureKPa": 300, "maxDutyPercent": 85 },
  "lambdaSensor": { "range": [0.65, 1.60], "mount": "upstream", "transportDelay": "estimate" },
  "channels": { "WB2 volts": { "quantity": "lambda", "scale": [[0.5, 0.70], [4.5, 1.30]] } },
  "tables": { "fuel": "tables/ve.table.csv", "target": "tables/target.table.csv" },
  "sessions": ["sessions/*.session.csv"],
  "limits": { "leanUnderLoad": 0.05, "knockRetardDeg": 2 }
}`;

const textAt = (text: string, { start, end }: Range): string => {
  const lines = text.split('\n');
  return start.line === end.line ? lines[start.line].slice(start.character, end.character) : '…';
};
const told = (text: string): [string, string][] => readVehicle(text).problems.map(({ kind, range }) => [kind, textAt(text, range)]);
const kinds = (document: VehicleDocument): string[] => document.problems.map(({ kind }) => kind);

suite('readVehicle', () => {
  test('the vehicle of the contract', () => {
    const { vehicle, problems, rangeOf } = readVehicle(CONTRACT);
    assert.deepEqual(problems, []);
    assert.deepEqual(vehicle, {
      name: 'Hill-climb coupe',
      engine: { displacementL: 1.998, cylinders: 4, revLimitRpm: 7200, aspiration: 'supercharged', maxManifoldPressureKPa: 190 },
      fuel: { blend: 'E10' },
      injectors: { flowCcPerMin: 650, ratedPressureKPa: 300, maxDutyPercent: 85 },
      body: {},
      weather: {},
      goal: {},
      lambdaSensor: { mount: 'upstream', range: [0.65, 1.6], transportDelay: 'estimate' },
      channels: new Map([
        [
          'WB2 volts',
          {
            quantity: 'lambda',
            scale: [
              [0.5, 0.7],
              [4.5, 1.3],
            ],
          },
        ],
      ]),
      tables: { fuel: 'tables/ve.table.csv', target: 'tables/target.table.csv' },
      sessions: [{ files: 'sessions/*.session.csv' }],
      joins: [],
      limits: { leanUnderLoad: 0.05, knockRetardDeg: 2 },
    });
    assert.equal(textAt(CONTRACT, rangeOf(['tables', 'target'])!), '"tables/target.table.csv"');
    assert.equal(textAt(CONTRACT, rangeOf(['sessions', 0])!), '"sessions/*.session.csv"');
    assert.equal(rangeOf(['engine', 'deadTimeMs']), undefined);
  });
  test('the car on the road, the weather and the goal', () => {
    const text =
      '{"body":{"massKg":1240,"dragAreaM2":0.62,"rollingResistance":0.013,"gearRatios":[3.3,2.1],"finalDrive":4.1,"tyreRadiusM":0.3},"weather":{"pressureKPa":97.8,"temperatureC":-3,"humidityPercent":60},"goal":{"wheelPowerKW":180}}';
    const { vehicle, problems } = readVehicle(text);
    assert.deepEqual(problems, []);
    assert.deepEqual({ body: vehicle.body, weather: vehicle.weather, goal: vehicle.goal }, JSON.parse(text));
    assert.deepEqual(
      told('{"body":{"massKg":-5,"gearRatios":[3,"x"],"wings":2}}')
        .map(([kind]) => kind)
        .sort(),
      ['bad-range', 'unknown-key', 'wrong-type'],
    );
  });
  test('what is plausible of a quantity: the right ranges are taken, the wrong ones told at their place', () => {
    const text = '{"limits":{"stuckS":4,"plausible":{"coolant-temperature":[-30,160],"lambda":[1.9,0.6],"throttle":[0],"colour":[0,1]}}}';
    const { vehicle } = readVehicle(text);
    assert.deepEqual([vehicle.limits, vehicle.plausible], [{ stuckS: 4 }, { 'coolant-temperature': [-30, 160] }]);
    assert.deepEqual(told(text).sort(), [
      ['bad-range', '[1.9,0.6]'],
      ['unknown-key', '"colour"'],
      ['wrong-type', '[0]'],
    ]);
  });
  test('other forms: an own ratio, delays fixed and by flow, sessions pinned to a table', () => {
    const { vehicle, problems } = readVehicle(
      '{"fuel":{"stoichAfr":14.1},"lambdaSensor":{"transportDelay":[[5,0.25],[40,0.06]]},"sessions":[{"files":"a/*.csv","loggedWith":"./tables/history/ve-1.table.csv"}],"tables":{"spark":"t\\\\spark.csv"}}',
    );
    assert.deepEqual(problems, []);
    assert.deepEqual(vehicle.lambdaSensor.transportDelay, [
      [5, 0.25],
      [40, 0.06],
    ]);
    assert.deepEqual(vehicle.sessions, [{ files: 'a/*.csv', loggedWith: 'tables/history/ve-1.table.csv' }]);
    assert.deepEqual(vehicle.tables, { spark: 't/spark.csv' });
    assert.equal(vehicleFuel(vehicle)?.stoichAfr, 14.1);
    assert.equal(readVehicle('{"lambdaSensor":{"transportDelay":0.15}}').vehicle.lambdaSensor.transportDelay, 0.15);
  });
  test('the fuel: a ratio of its own before that of the blend, none where none is written', () => {
    assert.equal(vehicleFuel({ fuel: { blend: 'E85', stoichAfr: 9.9 } })?.stoichAfr, 9.9);
    assert.equal(vehicleFuel({ fuel: { blend: 'E85' } })?.name, 'E85');
    assert.equal(vehicleFuel({ fuel: {} }), undefined);
  });

  const WRONG: [string, string, string, string][] = [
    ['a wrong type', '{"engine":{"cylinders":"4"}}', 'wrong-type', '"4"'],
    ['half a cylinder', '{"engine":{"cylinders":4.5}}', 'wrong-type', '4.5'],
    ['a list for an object', '{"engine":[]}', 'wrong-type', '[]'],
    ['signs that mean something in a pointer', '{"tables":{"a#%2F/~1?":[5]}}', 'wrong-type', '[5]'],
    ['null', '{"name":null}', 'wrong-type', 'null'],
    ['an empty text', '{"name":""}', 'wrong-type', '""'],
    ['a number for a glob', '{"sessions":[5]}', 'wrong-type', '5'],
    ['a delay that is a word', '{"lambdaSensor":{"transportDelay":"soon"}}', 'wrong-type', '"soon"'],
    ['one number for a range', '{"lambdaSensor":{"range":[0.65]}}', 'wrong-type', '[0.65]'],
    ['an unknown key', '{"engin":{}}', 'unknown-key', '"engin"'],
    ['an unknown key further in', '{"limits":{"leanUnderLoa":1}}', 'unknown-key', '"leanUnderLoa"'],
    ['a key written twice', '{"name":"a","name":"b"}', 'duplicate-key', '"name"'],
    ['less than nothing', '{"engine":{"displacementL":-2}}', 'bad-range', '-2'],
    ['a delay in milliseconds', '{"lambdaSensor":{"transportDelay":90}}', 'wrong-type', '90'],
    ['more than a number holds', '{"limits":{"leanUnderLoad":1e999}}', 'bad-range', '1e999'],
    ['a range the wrong way round', '{"lambdaSensor":{"range":[1.6,0.65]}}', 'bad-range', '[1.6,0.65]'],
    // No engine's figures in another unit (arithmetic): 7 thousand rpm, 33 psi, 3 bar, 0.85 of 1, 5 % of lambda, 17 psi, a range of AFR.
    ['a rev limit in thousands', '{"engine":{"revLimitRpm":7}}', 'bad-range', '7'],
    ['a manifold pressure in psi', '{"engine":{"maxManifoldPressureKPa":33}}', 'bad-range', '33'],
    ['an injector pressure in bar', '{"injectors":{"ratedPressureKPa":3}}', 'bad-range', '3'],
    ['a share for percent', '{"injectors":{"maxDutyPercent":0.85}}', 'bad-range', '0.85'],
    ['percent for lambda', '{"limits":{"leanUnderLoad":5}}', 'bad-range', '5'],
    ['a lambda that no engine runs at', '{"limits":{"richLambda":2}}', 'bad-range', '2'],
    ['a lambda for the distance from one', '{"limits":{"leanUnderLoad":0.95}}', 'bad-range', '0.95'],
    ['milliseconds for seconds', '{"limits":{"leanUnderLoadS":200}}', 'bad-range', '200'],
    ['kelvin', '{"limits":{"coolantHotC":378}}', 'bad-range', '378'],
    ['a fraction for percent of throttle', '{"limits":{"loadThrottlePercent":0.8}}', 'bad-range', '0.8'],
    ['a load in psi', '{"limits":{"boostManifoldPressureKPa":17}}', 'bad-range', '17'],
    ['a range of AFR', '{"lambdaSensor":{"range":[10,20]}}', 'bad-range', '[10,20]'],
    ['delays that go back', '{"lambdaSensor":{"transportDelay":[[40,0.1],[5,0.2]]}}', 'bad-range', '[[40,0.1],[5,0.2]]'],
    ['a mount that is none', '{"lambdaSensor":{"mount":"sideways"}}', 'not-one-of', '"sideways"'],
    ['a quantity that is none', '{"channels":{"a":{"quantity":"lamda"}}}', 'unknown-quantity', '"lamda"'],
    ['a mapping to nothing', '{"channels":{"a":{"unit":"V"}}}', 'missing-key', '{"unit":"V"}'],
    ['a unit that is none', '{"channels":{"a":{"quantity":"lambda","unit":"zork"}}}', 'unknown-unit', '"zork"'],
    ['a unit of something else', '{"channels":{"a":{"quantity":"lambda","unit":"V"}}}', 'unit-mismatch', '"V"'],
    ['a scale of one point', '{"channels":{"a":{"quantity":"lambda","scale":[[1,2],[1,3]]}}}', 'bad-range', '[[1,2],[1,3]]'],
    ['a fuel that is none', '{"fuel":{"blend":"E850"}}', 'unknown-fuel', '"E850"'],
    ['a path out of the folder', '{"tables":{"fuel":"../other/ve.csv"}}', 'path-outside', '"../other/ve.csv"'],
    ['an absolute path', '{"tables":{"fuel":"/etc/passwd"}}', 'path-outside', '"/etc/passwd"'],
    ['a glob of too many wildcards', '{"sessions":["**/*a*a*a*b"]}', 'too-many-wildcards', '"**/*a*a*a*b"'],
    ['a glob out of the folder', '{"sessions":["{a,..}/*.csv"]}', 'path-outside', '"{a,..}/*.csv"'],
    ['a table of old out of the folder', '{"sessions":[{"files":"a","loggedWith":"C:x"}]}', 'path-outside', '"C:x"'],
    ['a comment', '// c\n{}', 'syntax', '// c'],
    ['a list', '[]', 'not-an-object', '[]'],
    ['a number', '7', 'not-an-object', '7'],
    ['nothing', '', 'empty', ''],
    ['blanks', ' \n ', 'empty', ' '],
    ['words', 'hello', 'syntax', 'hello'],
  ];
  for (const [name, text, kind, place] of WRONG)
    test(`${name} is told at its place, once, and left out`, () => assert.deepEqual(told(text), [[kind, place]]));

  test('what stands beside a fault still counts', () => {
    const { vehicle } = readVehicle(
      '{"engine":{"cylinders":"x","displacementL":2,"colour":1},"limits":{"leanUnderLoad":"x","knockRetardDeg":3},"sessions":[5,"../x","ok/*.csv"],"name":"a"',
    );
    assert.deepEqual(
      [vehicle.engine, vehicle.limits, vehicle.sessions, vehicle.name],
      [{ displacementL: 2 }, { knockRetardDeg: 3 }, [{ files: 'ok/*.csv' }], 'a'],
    );
  });
  test('places of sessions follow those that are left', () => {
    const text = '{"sessions":["../x","ok/*.csv"]}';
    assert.equal(textAt(text, readVehicle(text).rangeOf(['sessions', 0])!), '"ok/*.csv"');
  });
  test('half a mapping is none: raw volts must not be read as lambda', () =>
    assert.equal(readVehicle('{"channels":{"a":{"quantity":"lambda","scale":"x"}}}').vehicle.channels.size, 0));
  test('a near key is offered', () => assert.equal(readVehicle('{"engin":{}}').problems[0].data.near, 'engine'));
  test('keys that name what every object has', () => {
    const document = readVehicle(
      '{"constructor":1,"__proto__":{"polluted":1},"channels":{"__proto__":{"quantity":"throttle","unit":"%"}},"tables":{"__proto__":"a.csv"}}',
    );
    assert.deepEqual(kinds(document), ['unknown-key', 'unknown-key']);
    assert.equal(document.vehicle.channels.get('__proto__')?.quantity, 'throttle');
    assert.equal(({} as Record<string, unknown>).polluted, undefined);
  });
  test('binary, deep, long, halves of letters: one line each, and an end', () => {
    assert.deepEqual(kinds(readVehicle('\u0000\u0001')), ['binary']);
    assert.deepEqual(kinds(readVehicle('['.repeat(100_000))), ['too-deep']);
    assert.deepEqual(kinds(readVehicle(' '.repeat(600_000) + '{}')), ['too-long']);
    assert.deepEqual(kinds(readVehicle('{"\\ud800":1}')), ['unknown-key']);
    assert.ok(readVehicle(`{${Array.from({ length: 15_000 }, (_, i) => `"k${i}":1`).join(',')}}`).problems.length < 100);
    for (const text of ['{"'.repeat(90_000), 'x'.repeat(190_000), '"'.repeat(190_000), '\n'.repeat(190_000)])
      assert.ok(readVehicle(text).problems.length > 0);
  });
  test('any text and any value is read without a throw', () => {
    const key = fc.oneof(
      fc.constantFrom(
        'name',
        'engine',
        'cylinders',
        'fuel',
        'blend',
        'channels',
        'quantity',
        'unit',
        'scale',
        'tables',
        'sessions',
        'files',
        'loggedWith',
        'limits',
        'lambdaSensor',
        'transportDelay',
        'range',
        '__proto__',
        'a/b~c%',
      ),
      fc.string({ unit: 'binary' }),
    );
    const { value } = fc.letrec((tie) => ({
      value: fc.oneof(
        { maxDepth: 5 },
        fc.constantFrom('lambda', 'E85', '../x', 'psi', 1, -1, 0.5, 1e308, null, true),
        fc.string({ unit: 'binary' }),
        fc.array(tie('value'), { maxLength: 4 }),
        fc.dictionary(key, tie('value'), { maxKeys: 6 }),
      ),
    }));
    const check = (text: string): void => {
      const document = readVehicle(text);
      const lines = text.split(/\r\n|\r|\n/);
      for (const {
        range: { start, end },
      } of document.problems)
        assert.ok(
          start.character <= lines[start.line].length &&
            end.character <= lines[end.line].length &&
            (start.line < end.line || start.character <= end.character),
        );
    };
    fc.assert(
      fc.property(value, (any) => check(JSON.stringify(any))),
      { numRuns: 500 },
    );
    fc.assert(fc.property(fc.string({ unit: 'binary' }), check));
    fc.assert(fc.property(fc.nat(CONTRACT.length), (length) => check(CONTRACT.slice(0, length))));
  });
  test('an empty object is the empty vehicle', () => assert.deepEqual(readVehicle('{}').vehicle, EMPTY_VEHICLE));
});

suite('paths of a vehicle', () => {
  for (const [path, inside] of [
    ['a/b.csv', 'a/b.csv'],
    ['./a//b.csv', 'a/b.csv'],
    ['a/../b.csv', 'b.csv'],
    ['a\\b.csv', 'a/b.csv'],
    ['..', undefined],
    ['a/../../b', undefined],
    ['/a', undefined],
    ['\\\\host\\a', undefined],
    ['C:\\a', undefined],
    ['file:///a', undefined],
    ['http://a', undefined],
    ['', undefined],
    ['.', undefined],
    ['a\u0000b', undefined],
    ['..a/b', '..a/b'],
  ] as const) {
    test(`${JSON.stringify(path)} is ${inside ?? 'outside'}`, () => assert.equal(insideFolder(path), inside));
  }
  for (const [glob, inside] of [
    ['sessions/*.csv', 'sessions/*.csv'],
    ['./**/*.csv', '**/*.csv'],
    ['../*.csv', undefined],
    ['a/../*.csv', undefined],
    ['{a,..}/*', undefined],
    ['{a,/etc}/*', undefined],
    ['/*.csv', undefined],
    ['{/etc,a}/*', undefined],
    ['a.csv', 'a.csv'],
    ['a..b/*.csv', 'a..b/*.csv'],
    ['data/**/2024-*/*hill*.csv', 'data/**/2024-*/*hill*.csv'],
    ['**/*a*a*a*b', undefined],
    ['+(a)+(a)+(a)+(a)+(a)', undefined],
  ] as const) {
    test(`glob ${JSON.stringify(glob)} is ${inside ?? 'outside'}`, () => assert.equal(globInsideFolder(glob), inside));
  }
});

suite('vehicleSchema', () => {
  test('every limit can be set, with its default', () => {
    const limits = vehicleSchema.properties?.limits.properties ?? {};
    assert.deepEqual(Object.keys(limits), [...Object.keys(LIMITS), 'plausible']);
    assert.deepEqual(
      Object.keys(limits.plausible.properties ?? {}),
      QUANTITY_IDS.filter((id) => id !== 'time' && id !== 'trouble-code'),
    );
    for (const [id, limit] of Object.entries(LIMITS)) {
      assert.equal(limits[id].default, limit.default);
      // Half of each default and one and a half of it can be wanted; a thousand times as much (milliseconds) is a slip.
      const told = (value: number): number => readVehicle(JSON.stringify({ limits: { [id]: value } })).problems.length;
      assert.deepEqual([told(limit.default), told(1000 * limit.default)], [0, 1], id);
      if (!/Lambda$|Deg$|Duty|HotC|warmCoolant|Throttle/.test(id))
        assert.equal(told(0.5 * limit.default) + told(1.5 * limit.default), 0, id);
    }
  });
  test('the guide for an editor explains the same keys and passes anything', () => {
    const guide = guideOf(vehicleSchema);
    for (const text of [
      '{ "engine": { "cylinders": "four" }, "nonsense": 1, "lambdaSensor": { "mount": 3, "transportDelay": "soon" } }',
      '[]',
      '{ "channels": { "x": {} }, "sessions": [{}] }',
    ]) {
      assert.deepEqual(new Validator(guide as object, '7').validate(JSON.parse(text)).errors, [], text);
    }
    assert.equal(
      guide.properties?.engine.properties?.cylinders.description,
      vehicleSchema.properties?.engine.properties?.cylinders.description,
    );
    assert.deepEqual(guide.properties?.lambdaSensor.properties?.mount.examples, ['upstream', 'downstream', 'tailpipe']);
  });
  test('everything is described, and every example and default is valid', () => {
    const walk = (schema: Schema, path: string): void => {
      if (path !== '' && !path.endsWith('[]') && !path.includes('|')) assert.ok(schema.description, `${path} has no description`);
      for (const example of [...(schema.examples ?? []), ...('default' in schema ? [schema.default] : [])]) {
        assert.deepEqual(new Validator(schema as object, '7').validate(example).errors, [], `${path}: ${JSON.stringify(example)}`);
      }
      for (const [key, inner] of Object.entries(schema.properties ?? {})) walk(inner, `${path}.${key}`);
      if (schema.items) walk(schema.items, `${path}[]`);
      if (typeof schema.additionalProperties === 'object') walk(schema.additionalProperties, `${path}.*`);
      for (const inner of schema.anyOf ?? []) walk(inner, `${path}|`);
    };
    walk(vehicleSchema, '');
  });
});
