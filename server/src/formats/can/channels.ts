// What the channels of a capture are called and in which unit they are: by SAE J1979, or as the vehicle file maps them.

import type { ColumnPlan } from '../session/describe.js';
import { mappingOf, scaleOf } from '../session/describe.js';
import type { Range } from '../range.js';
import type { ChannelMapping, Vehicle } from '../vehicle/vehicle.js';
import { parseUnit } from '../../quantities/parseUnit.js';
import { QUANTITIES } from '../../quantities/quantity.js';
import { UNITS, type Unit } from '../../quantities/units.js';
import type { AnsweredChannel } from './answers.js';
import { DEFAULT_TOP, IDENTIFIERS, nameReading, type Reading } from './service01.js';

const readingOf = ({ identifier, part }: AnsweredChannel): Reading =>
  (IDENTIFIERS.get(identifier) as NonNullable<ReturnType<typeof IDENTIFIERS.get>>).readings[part];

const unitOf = ({ unit, absolute }: Reading): Unit | undefined => {
  if (unit === undefined) return undefined;
  return absolute ? { ...UNITS[unit], symbol: `${UNITS[unit].symbol} absolute`, reference: 'absolute' } : UNITS[unit];
};

/** By how much a controller's own full range stretches a channel's readings; they are read on the default range first. */
export const rangedFactor = (channel: AnsweredChannel): number => {
  const { ranged } = readingOf(channel);
  const top = ranged === undefined ? undefined : channel.controller.tops[ranged];
  return ranged === undefined || top === undefined ? 1 : top / DEFAULT_TOP[ranged];
};

/**
 * Plans for channels in their order; the first of an identifier in the order of `first` is the plain one. `ranges` are where each first
 * stands.
 */
export const planChannels = (
  channels: readonly AnsweredChannel[],
  ranges: readonly Range[],
  vehicle: Vehicle | undefined,
): ColumnPlan[] => {
  const main = new Map<number, AnsweredChannel>();
  for (const channel of channels) {
    const first = main.get(channel.identifier);
    if (!first || channel.first < first.first) main.set(channel.identifier, channel);
  }
  return channels.map((channel, column) => {
    const reading = readingOf(channel);
    const { controller } = channel;
    const { name, quantity } = nameReading(channel.identifier, reading, controller.fourBanks);
    const plain = main.get(channel.identifier)?.controller ?? controller;
    const suffix =
      controller === plain
        ? ''
        : controller.interface === plain.interface
          ? ` (${controller.label})`
          : ` (${controller.label} on ${controller.interface})`;
    const header = name + suffix;
    const unit = unitOf(reading);
    const base = { column, name: header, header, headerRange: ranges[column], unitText: unit?.symbol ?? reading.unitText ?? '' };
    const mapping = mappingOf(vehicle, header);
    if (mapping === 'other')
      return { ...base, quantity: undefined, quantityFrom: 'vehicle', unit, unitFrom: unit ? 'standard' : 'none', unitTrouble: 'none' };
    return mapping
      ? { ...base, ...mapped(mapping, unit) }
      : {
          ...base,
          name: unit === undefined && reading.unitText !== undefined ? `${header} (${reading.unitText})` : header,
          quantity,
          quantityFrom: quantity ? 'standard' : 'none',
          unit,
          unitFrom: unit ? 'standard' : 'none',
          unitTrouble: 'none',
        };
  });
};

/** What the vehicle file makes of a channel: its quantity, its unit and scale where they are given, else the unit that the standard has. */
const mapped = (
  mapping: ChannelMapping,
  unit: Unit | undefined,
): Pick<ColumnPlan, 'quantity' | 'quantityFrom' | 'unit' | 'unitFrom' | 'unitTrouble' | 'scale'> => {
  const { quantity } = mapping;
  const scale = scaleOf(mapping);
  const canonical = UNITS[QUANTITIES[quantity].unit];
  const own = mapping.unit === undefined ? (scale ? canonical : undefined) : parseUnit(mapping.unit, quantity);
  const fit = unit?.dimensions.includes(QUANTITIES[quantity].dimension) ? unit : undefined;
  return {
    quantity,
    quantityFrom: 'vehicle',
    ...(scale ? { scale } : {}),
    unit: own ?? fit ?? canonical,
    unitFrom: own ? 'vehicle' : fit ? 'standard' : 'assumed',
    unitTrouble: (own ?? fit) ? 'none' : mapping.unit === undefined ? 'missing' : 'unknown',
  };
};
