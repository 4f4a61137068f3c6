// Values as written become values in the quantity's unit; what had to be assumed for that is kept for saying.

import type { Channel } from './session.js';
import { convertAll, type Unpackable } from '../csv/packed.js';
import { Shelf } from '../shelf.js';
import type { ColumnPlan } from './describe.js';
import type { ProblemBook } from '../problemBook.js';
import { QUANTITIES } from '../../quantities/quantity.js';
import { STANDARD_BAROMETER_KPA, toCanonical, type Conversion } from '../../quantities/convert.js';
import { GASOLINE_SCALE_AFR } from '../../quantities/fuels.js';
import { UNITS, type ConversionContext, type Unit } from '../../quantities/units.js';
import { parseUnit } from '../../quantities/parseUnit.js';

/** Middle of up to 1001 values spread over a column; NaN where none is a number. */
const middleOf = (values: Float64Array): number => {
  const every = Math.max(1, Math.floor(values.length / 1001));
  const sample: number[] = [];
  for (let at = 0; at < values.length; at += every) if (values[at] === values[at]) sample.push(values[at]);
  if (sample.length === 0 && every > 1)
    for (const value of values) {
      if (value === value) sample.push(value);
      if (sample.length > 1001) break;
    }
  sample.sort((a, b) => a - b);
  return sample.length === 0 ? NaN : sample[sample.length >> 1];
};

const needsBarometer = (plan: ColumnPlan): boolean => {
  if (
    plan.quantity === undefined ||
    plan.unit === undefined ||
    plan.quantity === 'barometric-pressure' ||
    QUANTITIES[plan.quantity].dimension !== 'pressure'
  )
    return false;
  const isGaugeQuantity = QUANTITIES[plan.quantity].unit === 'kPa-gauge';
  const { reference } = plan.unit;
  return isGaugeQuantity ? reference === 'absolute' : reference === 'gauge' || reference === 'vacuum';
};

const identity = (value: number): number => value;

/** Whether a conversion leaves every value as it is. */
const isIdentity = (unit: Unit, canonical: Unit): boolean =>
  unit.id === canonical.id && unit.reference === canonical.reference && unit.fuel === canonical.fuel;

const conversionOf = (plan: ColumnPlan, context: ConversionContext): Conversion => {
  if (plan.quantity === undefined || plan.unit === undefined) return identity;
  const canonical = UNITS[QUANTITIES[plan.quantity].unit];
  const convert = isIdentity(plan.unit, canonical) ? identity : toCanonical(plan.quantity, plan.unit, context);
  const { scale } = plan;
  return scale ? (written) => convert(written * scale.factor + scale.offset) : convert;
};

/** Air pressure that the file itself tells: a barometric channel's median, or a note `# barometer: 99.2 kPa`. */
const knownBarometer = (
  plans: readonly ColumnPlan[],
  valuesOf: (index: number) => Float64Array,
  metadata: ReadonlyMap<string, string>,
): number | undefined => {
  const [low, high] = QUANTITIES['barometric-pressure'].plausible;
  const plausible = (kPa: number): number | undefined => (kPa >= low && kPa <= high ? kPa : undefined);
  const index = plans.findIndex((plan) => plan.quantity === 'barometric-pressure');
  if (index >= 0) {
    const convert = conversionOf(plans[index], { barometerKPa: STANDARD_BAROMETER_KPA, stoichAfr: GASOLINE_SCALE_AFR });
    const fromChannel = plausible(convert(middleOf(valuesOf(index))));
    if (fromChannel !== undefined) return fromChannel;
  }
  for (const key of ['barometer', 'barometric pressure', 'barometric-pressure', 'baro']) {
    const match = /^([\d.,]+)\s*(.*)$/.exec(metadata.get(key) ?? '');
    const unit = match && (match[2] === '' ? UNITS.kPa : parseUnit(match[2], 'barometric-pressure'));
    if (match && unit)
      return plausible(
        toCanonical('barometric-pressure', unit, { barometerKPa: STANDARD_BAROMETER_KPA, stoichAfr: GASOLINE_SCALE_AFR })(
          Number(match[1].replace(',', '.')),
        ),
      );
  }
  return undefined;
};

/** An air-fuel ratio by its size where nothing names the unit: no lambda is ever this high, every air-fuel ratio of a running engine is. */
const LOOKS_LIKE_AFR = [7, 25] as const;

const settleUnit = (plan: ColumnPlan, values: () => Float64Array): ColumnPlan => {
  if (plan.unitFrom !== 'assumed' || plan.quantity === undefined || QUANTITIES[plan.quantity].dimension !== 'mixture') return plan;
  const middle = middleOf(values());
  return middle >= LOOKS_LIKE_AFR[0] && middle <= LOOKS_LIKE_AFR[1] ? { ...plan, unit: UNITS.afr } : plan;
};

/**
 * A gauge reading by its sign where the header does not say so: this much below zero (kPa), in this share of the readings, at two heights
 * or more. One fault code of a sensor is not it.
 */
const BELOW_ZERO_KPA = -2;
const BELOW_ZERO_SHARE = 0.05;

/**
 * Manifold pressure in a plain unit that goes below zero cannot be absolute: it is counted from the air around the car. Undefined where it
 * is not so.
 */
const gaugeBySign = (plan: ColumnPlan, values: () => Float64Array): Unit | undefined => {
  const { unit } = plan;
  if (
    plan.quantity !== 'manifold-pressure' ||
    plan.unitFrom === 'vehicle' ||
    !unit?.dimensions.includes('pressure') ||
    unit.reference !== undefined
  )
    return undefined;
  const limit = BELOW_ZERO_KPA / (unit.factor ?? NaN),
    read = values();
  let first = 0;
  while (first < read.length && !(read[first] < limit)) first++;
  if (first === read.length) return undefined;
  const below = read.filter((value) => value < limit),
    count = read.filter((value) => value === value).length;
  if (below.every((value) => value === below[0]) || below.length < BELOW_ZERO_SHARE * count) return undefined;
  const known = (UNITS as Readonly<Record<string, Unit | undefined>>)[`${unit.id}-gauge`];
  return known ?? { ...unit, symbol: `${unit.symbol} gauge`, reference: 'gauge' };
};

/** Knock retard is counted upwards from 0; a log that counts it downwards is turned round. */
const isTurned = (plan: ColumnPlan, values: () => Float64Array): boolean => {
  if (plan.quantity !== 'knock-retard') return false;
  const written = values();
  let isBelow = false;
  for (let i = 0; i < written.length; i++) {
    if (written[i] > 0) return false;
    if (written[i] < 0) isBelow = true;
  }
  return isBelow;
};

/**
 * Channels from plans and the columns read for them; converts the values in place, packed ones whenever they come on the shelf. Says
 * assumed units, unfit units and an assumed barometer.
 */
export const makeChannels = (
  plans: readonly ColumnPlan[],
  columns: readonly (Float64Array | Unpackable)[],
  filled: readonly number[],
  metadata: ReadonlyMap<string, string>,
  book: ProblemBook,
  shelf = new Shelf(),
): Channel[] => {
  /** As written. */
  const valuesOf = (index: number): Float64Array => {
    const column = columns[index];
    return column instanceof Float64Array ? column : shelf.get(column, () => column.values(), column.bytes);
  };
  const settled = plans.map((written, index): ColumnPlan => {
    const values = (): Float64Array => valuesOf(index);
    const plan = settleUnit(written, values);
    const gauge = gaugeBySign(plan, values);
    if (!gauge) return plan;
    const least = values().reduce((low, value) => (value < low ? value : low), Infinity);
    book.place(
      'unit-unknown',
      'below-zero',
      plan.headerRange,
      { name: plan.name, written: plan.unit?.symbol ?? '', read: gauge.symbol, least },
      { channel: plan.header },
    );
    return { ...plan, unit: gauge, unitFrom: 'assumed' };
  });
  const gauges = settled.filter(needsBarometer);
  const barometer = gauges.length > 0 ? knownBarometer(settled, valuesOf, metadata) : undefined;
  const context: ConversionContext = { barometerKPa: barometer ?? STANDARD_BAROMETER_KPA, stoichAfr: GASOLINE_SCALE_AFR };
  if (gauges.length > 0 && barometer === undefined) {
    book.place(
      'unit-unknown',
      'barometer-assumed',
      gauges[0].headerRange,
      { channels: gauges.map((plan) => plan.name), assumedKPa: STANDARD_BAROMETER_KPA },
      { channel: gauges[0].header, count: gauges.length },
    );
  }
  return settled.map((plan, index) => {
    const column = columns[index];
    let convert = conversionOf(plan, context);
    if (isTurned(plan, () => valuesOf(index))) {
      const straight = convert;
      convert = (written) => -straight(written);
      book.place('unit-unknown', 'sign-turned', plan.headerRange, { name: plan.name }, { channel: plan.header });
    }
    const channel: Omit<Channel, 'values'> = {
      index,
      name: plan.name,
      header: plan.header,
      headerRange: plan.headerRange,
      quantity: plan.quantity,
      unit: plan.unit,
      quantityFrom: plan.quantityFrom,
      unitFrom: plan.unitFrom,
      filled: filled[index],
      toCanonical: convert,
    };
    if (!(column instanceof Float64Array)) return unpackedWhenAsked(channel, column, convert, shelf);
    if (convert !== identity) convertAll(column, convert);
    return { ...channel, values: column };
  });
};

/** A function of its own, so that the channel holds on to nothing else of the reading. */
const unpackedWhenAsked = (channel: Omit<Channel, 'values'>, column: Unpackable, convert: Conversion, shelf: Shelf): Channel => {
  const key = convert === identity ? column : {};
  return {
    ...channel,
    get values() {
      return shelf.get(key, () => column.values(convert === identity ? undefined : convert), column.bytes);
    },
  };
};

const MOST_UNKNOWN_UNITS = 5;

/** Says which units are missing (once for all columns), unknown or unfit. `plans` holds the time column too. */
export const sayUnits = (plans: readonly ColumnPlan[], channels: readonly Channel[], book: ProblemBook): void => {
  const unitOf = (plan: ColumnPlan): Unit | undefined =>
    channels.find((channel) => channel.headerRange === plan.headerRange)?.unit ?? plan.unit;
  const missing = plans.filter((plan) => plan.unitTrouble === 'missing');
  if (missing.length > 0) {
    book.place(
      'unit-unknown',
      'missing',
      missing[0].headerRange,
      {
        channels: missing.map((plan) => plan.name),
        assumed: missing.map((plan) => unitOf(plan)?.symbol ?? ''),
        noneInFile: plans.every((plan) => plan.unitText === ''),
      },
      { channel: missing[0].header, count: missing.length },
    );
  }
  for (const kind of ['unknown', 'unfit'] as const) {
    const those = plans.filter((plan) => plan.unitTrouble === kind);
    for (const plan of those.slice(0, MOST_UNKNOWN_UNITS)) {
      book.place(
        'unit-unknown',
        kind,
        plan.headerRange,
        {
          name: plan.name,
          text: plan.unitText,
          assumed: kind === 'unknown' ? (unitOf(plan)?.symbol ?? '') : '',
          more: Math.max(0, those.length - MOST_UNKNOWN_UNITS),
        },
        { channel: plan.header },
      );
    }
  }
};
