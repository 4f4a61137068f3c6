// The JSON Schema of vehicle.json: what the editor completes and explains, and what the reader checks by.

import { FUEL_NAMES } from '../../quantities/fuels.js';
import { QUANTITIES, QUANTITY_IDS } from '../../quantities/quantity.js';
import { UNITS } from '../../quantities/units.js';
import { LIMITS } from '../limits.js';
import { HAS_RANGE } from '../plausible.js';

/** As much of JSON Schema draft-07 as is used here. `title` is the short phrase for messages: what stands here, `expected …`. */
export interface Schema {
  readonly $schema?: string;
  readonly title?: string;
  readonly description?: string;
  readonly type?: 'object' | 'array' | 'string' | 'number' | 'integer';
  readonly properties?: Readonly<Record<string, Schema>>;
  readonly required?: readonly string[];
  readonly additionalProperties?: false | Schema;
  readonly items?: Schema;
  readonly minItems?: number;
  readonly maxItems?: number;
  readonly anyOf?: readonly Schema[];
  readonly const?: string;
  readonly enum?: readonly string[];
  readonly minLength?: number;
  readonly minimum?: number;
  readonly maximum?: number;
  readonly exclusiveMinimum?: number;
  readonly default?: unknown;
  readonly examples?: readonly unknown[];
}

const object = (description: string, properties: Readonly<Record<string, Schema>>, more: Schema = {}): Schema => ({
  type: 'object',
  description,
  properties,
  additionalProperties: false,
  ...more,
});
const positive = (description: string, maximum: number, ...examples: number[]): Schema => ({
  type: 'number',
  description,
  exclusiveMinimum: 0,
  maximum,
  examples,
});
/**
 * Bounds that no engine comes near, so that a number in another unit (thousands, psi, bar, a fraction for percent) is told (common
 * practice, no source).
 */
const between = (minimum: number, maximum: number, description: string, ...examples: number[]): Schema => ({
  type: 'number',
  description,
  minimum,
  maximum,
  examples,
});
const text = (description: string, ...examples: string[]): Schema => ({ type: 'string', minLength: 1, description, examples });
const choice = (description: string, values: readonly string[], more: Schema = {}): Schema => ({
  type: 'string',
  description,
  enum: values,
  ...more,
});
const pair = (title: string): Schema => ({ type: 'array', title, items: { type: 'number' }, minItems: 2, maxItems: 2 });

/** Of a column that is none of the known quantities, and is not asked about again. */
export const OTHER_QUANTITY = 'other';

const channel = object(
  'How one column of the log is read, by its exact header. A unit, a scale or both.',
  {
    quantity: choice(
      `What the column measures. Kept in: ${QUANTITY_IDS.map((id) => `${id} ${UNITS[QUANTITIES[id].unit].symbol}`.trim()).join(', ')}. "${OTHER_QUANTITY}" where it is none of these.`,
      [...QUANTITY_IDS, OTHER_QUANTITY],
    ),
    unit: text("Unit of the column, or of the values of the scale. Left out, it is the quantity's own unit.", 'psi gauge', 'AFR E85', '°F'),
    scale: {
      type: 'array',
      title: 'two points [[raw, value], [raw, value]]',
      items: pair('a point [raw, value]'),
      minItems: 2,
      maxItems: 2,
      description: 'Two points of a straight line: [[raw, value], [raw, value]]. Raw is what the log holds, often volts.',
      examples: [
        [
          [0.5, 0.7],
          [4.5, 1.3],
        ],
      ],
    },
  },
  { required: ['quantity'] },
);

const session: Schema = {
  title: 'a glob, or { "files": GLOB, "loggedWith": TABLE }',
  anyOf: [
    text('Files of sessions, as a glob from this folder.', 'sessions/*.session.csv'),
    object(
      'Sessions that were recorded with an earlier state of the fuel table.',
      {
        files: text('Files of sessions, as a glob from this folder.', 'sessions/*.session.csv'),
        loggedWith: text(
          'The fuel table that was in the engine computer then, as a path from this folder.',
          'tables/history/ve-1.table.csv',
        ),
      },
      { required: ['files'] },
    ),
  ],
};

/** Every key of vehicle.json with its meaning, unit, range and default; every limit of `LIMITS` can be set. */
export const vehicleSchema: Schema = {
  $schema: 'http://json-schema.org/draft-07/schema#',
  ...object('What is known of one vehicle. Every key may be left out; what is assumed instead is said with the findings.', {
    $schema: { type: 'string', description: 'The JSON Schema of this file, for editors.' },
    name: text('What the vehicle is called in reports.', 'Hill-climb coupe'),
    engine: object('The engine.', {
      displacementL: positive('Displacement of all cylinders, litres.', 30, 1.998),
      cylinders: { type: 'integer', description: 'Number of cylinders.', minimum: 1, maximum: 24, examples: [4, 6, 8] },
      revLimitRpm: between(1000, 25000, 'Engine speed at which the limiter cuts, rpm.', 7200),
      aspiration: choice('How the engine gets its air.', ['natural', 'turbocharged', 'supercharged']),
      maxManifoldPressureKPa: between(50, 1000, 'Highest manifold pressure the engine is meant to see, kPa absolute.', 190),
    }),
    fuel: object('What is in the tank. AFR is shown for this fuel.', {
      blend: text(
        `A fuel by name or blend: E0 to E100, M0 to M100, ${FUEL_NAMES.join(', ')}. Blends are percent alcohol by volume.`,
        'E10',
        'E85',
        'gasoline',
      ),
      stoichAfr: {
        type: 'number',
        description: "Stoichiometric air-fuel ratio by mass; stands before the blend's own where both are written.",
        minimum: 1,
        maximum: 40,
        examples: [14.1],
      },
    }),
    injectors: object('The injectors.', {
      flowCcPerMin: between(20, 10000, 'Flow of one injector at its rated pressure, cc/min.', 650),
      ratedPressureKPa: between(60, 50000, 'Pressure over the injector at which that flow was measured, kPa.', 300),
      maxDutyPercent: {
        ...between(2, 100, 'Duty from which the injectors are too small, %. Stands before the limit injectorDutyPercent.', 85),
        default: LIMITS.injectorDutyPercent.default,
      },
      deadTimeMs: {
        type: 'number',
        description: 'Time from switching on to opening at running voltage, ms.',
        minimum: 0,
        maximum: 10,
        examples: [0.9],
      },
    }),
    body: object('The car on the road, for wheel power from its speed. Without mass, drag and rolling resistance no power is told.', {
      massKg: between(50, 60000, 'Mass as driven: car, people, fuel, kg.', 1240),
      dragAreaM2: positive('Drag coefficient times frontal area, m².', 15, 0.62),
      rollingResistance: positive('Rolling resistance as a share of the weight.', 0.1, 0.013),
      rotatingMassFactor: {
        type: 'number',
        description:
          'What wheels, shafts and engine add to the mass while it is accelerated, as a factor. Left out, it is estimated from the gear where that is known.',
        minimum: 1,
        maximum: 3,
        examples: [1.05],
      },
      tyreRadiusM: positive('Rolling radius of the driven tyres, m.', 1.5, 0.305),
      gearRatios: {
        type: 'array',
        title: 'a list of ratios, first gear first',
        description:
          'Ratios of the gearbox, first gear first. With the final drive and the tyre they tell the speed where only engine speed and gear are logged.',
        minItems: 1,
        maxItems: 12,
        items: positive('Ratio of one gear.', 30),
        examples: [[3.3, 2.1, 1.5, 1.17, 0.94]],
      },
      finalDrive: positive('Ratio of the final drive.', 30, 4.1),
    }),
    weather: object(
      'Weather of the day, for sessions that do not log or note it themselves (notes "# air temperature: 18 °C", "# air pressure: 978 mbar", "# humidity: 55 %").',
      {
        pressureKPa: between(50, 110, 'Air pressure at the place (not reduced to sea level), kPa.', 97.8),
        temperatureC: {
          type: 'number',
          description: 'Air temperature where the engine breathes in, °C.',
          minimum: -60,
          maximum: 60,
          examples: [18],
        },
        humidityPercent: { type: 'number', description: 'Relative humidity, %.', minimum: 0, maximum: 100, examples: [55] },
      },
    ),
    goal: object('What is wanted of the engine: the fuel and the injectors that it takes are told beside each pull.', {
      wheelPowerKW: positive('Power wanted at the wheels, kW.', 3000, 180),
      fuelGPerKWh: between(50, 2000, 'Fuel for each kWh at the wheels, g. Left out, it is what the pulls show.', 380),
    }),
    lambdaSensor: object('The wideband sensor and where it sits.', {
      range: {
        ...pair('two numbers [lowest, highest]'),
        description: 'Lowest and highest lambda that the sensor can show; readings there or beyond are clipped, and no evidence.',
        examples: [[0.65, 1.6]],
      },
      mount: choice('Before the catalytic converter, behind it, or a clamp in the tailpipe. Behind a catalyst a reading is no evidence.', [
        'upstream',
        'downstream',
        'tailpipe',
      ]),
      transportDelay: {
        title: '"estimate", seconds (0 to 5), or pairs [[flow in g/s, seconds], …]',
        description: 'How long the exhaust takes from the cylinder to the reading: found from the log, fixed, or by air flow.',
        default: 'estimate',
        examples: [
          'estimate',
          0.15,
          [
            [5, 0.25],
            [40, 0.06],
          ],
        ],
        anyOf: [
          { const: 'estimate' },
          { type: 'number', minimum: 0, maximum: 5 },
          { type: 'array', minItems: 1, items: pair('a pair [flow in g/s, seconds]') },
        ],
      },
    }),
    channels: {
      type: 'object',
      description: 'Columns of the log by their exact header, where the header does not say it all.',
      additionalProperties: channel,
      examples: [
        {
          'WB2 volts': {
            quantity: 'lambda',
            scale: [
              [0.5, 0.7],
              [4.5, 1.3],
            ],
          },
        },
      ],
    },
    tables: {
      type: 'object',
      description: 'Tables of the engine computer, as paths from this folder.',
      properties: {
        fuel: text('The table that sets the fuel now.', 'tables/ve.table.csv'),
        target: text('The table of target lambda or AFR.', 'tables/target.table.csv'),
      },
      additionalProperties: text('A table, as a path from this folder.'),
    },
    sessions: {
      type: 'array',
      description: 'Sessions beside those named *.session.csv and *.candump.log, and what they were logged with.',
      items: session,
      examples: [['sessions/*.session.csv']],
    },
    join: {
      type: 'array',
      description:
        "Two loggers of one drive, read as one session: the second's channels go onto the first's clock, by the engine speed that both have.",
      items: {
        type: 'array',
        title: 'two files ["FIRST", "SECOND"]',
        minItems: 2,
        maxItems: 2,
        items: text('A session, as a path from this folder.', 'sessions/ecu.session.csv', 'sessions/wideband.session.csv'),
      },
      examples: [[['sessions/ecu.session.csv', 'sessions/wideband.session.csv']]],
    },
    limits: object('Limits that findings judge by. Each has a default.', {
      ...Object.fromEntries(
        Object.entries(LIMITS).map(([id, limit]) => [
          id,
          {
            type: 'number',
            minimum: limit.range[0],
            maximum: limit.range[1],
            default: limit.default,
            description: `${limit.meaning} (${limit.unit}). Default ${limit.default}; ${limit.source}.`,
          } satisfies Schema,
        ]),
      ),
      plausible: object(
        'Ranges [lowest, highest] in which readings can be true, by quantity. Outside, a reading is a wiring fault, a wrong unit or another channel.',
        Object.fromEntries(
          HAS_RANGE.map((id) => {
            const {
              title,
              unit,
              plausible: [low, high],
            } = QUANTITIES[id];
            return [
              id,
              {
                ...pair('two numbers [lowest, highest]'),
                default: [low, high],
                description: `Range of ${title}${UNITS[unit].symbol ? ` (${UNITS[unit].symbol})` : ''}. Default ${low} to ${high}; common practice, no source.`,
              },
            ];
          }),
        ),
      ),
    }),
  }),
};

/** Keywords that only judge. */
const JUDGING = [
  'type',
  'required',
  'minItems',
  'maxItems',
  'minLength',
  'minimum',
  'maximum',
  'exclusiveMinimum',
  'enum',
  'const',
] as const;

/**
 * The schema for an editor's own completion and hover, without a word of judgement: the findings judge, in one place, with severity and
 * page, and the editor would tell everything a second time.
 */
export function guideOf(schema: Schema): Schema {
  const { properties, additionalProperties, items, anyOf, ...rest } = schema;
  const values = schema.examples ?? schema.enum ?? (schema.const === undefined ? undefined : [schema.const]);
  return {
    ...Object.fromEntries(Object.entries(rest).filter(([key]) => !(JUDGING as readonly string[]).includes(key))),
    ...(values ? { examples: values } : {}),
    ...(properties ? { properties: Object.fromEntries(Object.entries(properties).map(([key, each]) => [key, guideOf(each)])) } : {}),
    ...(additionalProperties ? { additionalProperties: guideOf(additionalProperties) } : {}),
    ...(items ? { items: guideOf(items) } : {}),
    ...(anyOf ? { anyOf: anyOf.map(guideOf) } : {}),
  };
}
