// Every rule there is, in the order of the contract's list of codes. To add one: its file in rules/, an import and a line here.

import type { FindingCode, Rule } from './finding.js';
import { rule as afrScaleMismatch } from './rules/afr-scale-mismatch.js';
import { rule as axisNotMonotonic } from './rules/axis-not-monotonic.js';
import { rule as cellLean } from './rules/cell-lean.js';
import { rule as cellRich } from './rules/cell-rich.js';
import { rule as cellRough } from './rules/cell-rough.js';
import { rule as cellUnproven } from './rules/cell-unproven.js';
import { rule as channelClipped } from './rules/channel-clipped.js';
import { rule as channelMissing } from './rules/channel-missing.js';
import { rule as channelStuck } from './rules/channel-stuck.js';
import { rule as coolantHot } from './rules/coolant-hot.js';
import { rule as fileMissing } from './rules/file-missing.js';
import { rule as fuelPressureDrop } from './rules/fuel-pressure-drop.js';
import { rule as headerDuplicate } from './rules/header-duplicate.js';
import { rule as injectorDutyHigh } from './rules/injector-duty-high.js';
import { rule as intakeAirHot } from './rules/intake-air-hot.js';
import { rule as knock } from './rules/knock.js';
import { rule as leanUnderLoad } from './rules/lean-under-load.js';
import { rule as misfireSuspected } from './rules/misfire-suspected.js';
import { rule as richUnderLoad } from './rules/rich-under-load.js';
import { rule as rowRagged } from './rules/row-ragged.js';
import { rule as sensorCold } from './rules/sensor-cold.js';
import { rule as sensorDropout } from './rules/sensor-dropout.js';
import { rule as sensorMount } from './rules/sensor-mount.js';
import { rule as targetUnsafe } from './rules/target-unsafe.js';
import { rule as timeGap } from './rules/time-gap.js';
import { rule as timeRepeated } from './rules/time-repeated.js';
import { rule as timeReversed } from './rules/time-reversed.js';
import { rule as troubleCode } from './rules/trouble-code.js';
import { rule as unitUnknown } from './rules/unit-unknown.js';
import { rule as valueImplausible } from './rules/value-implausible.js';
import { rule as valueNotANumber } from './rules/value-not-a-number.js';
import { rule as vehicleInvalid } from './rules/vehicle-invalid.js';

export const RULES: readonly Rule[] = [
  valueNotANumber,
  rowRagged,
  headerDuplicate,
  unitUnknown,
  channelMissing,
  timeReversed,
  timeGap,
  timeRepeated,
  sensorDropout,
  channelClipped,
  channelStuck,
  valueImplausible,
  sensorCold,
  sensorMount,
  afrScaleMismatch,
  leanUnderLoad,
  richUnderLoad,
  knock,
  injectorDutyHigh,
  fuelPressureDrop,
  intakeAirHot,
  coolantHot,
  misfireSuspected,
  troubleCode,
  axisNotMonotonic,
  cellLean,
  cellRich,
  cellRough,
  cellUnproven,
  targetUnsafe,
  vehicleInvalid,
  fileMissing,
];

/** The codes of the rules for which something holds. */
export const codesWhere = (holds: (rule: Rule) => boolean): ReadonlySet<FindingCode> =>
  new Set(RULES.filter(holds).map(({ code }) => code));
