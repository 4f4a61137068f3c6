// Every rule there is, in the order of the contract's list of codes. To add one: its file in rules/, an import and a line here.

import type { Rule } from './finding.js';
import { rule as axisNotMonotonic } from './rules/axis-not-monotonic.js';
import { rule as channelMissing } from './rules/channel-missing.js';
import { rule as fileMissing } from './rules/file-missing.js';
import { rule as headerDuplicate } from './rules/header-duplicate.js';
import { rule as rowRagged } from './rules/row-ragged.js';
import { rule as targetUnsafe } from './rules/target-unsafe.js';
import { rule as timeGap } from './rules/time-gap.js';
import { rule as timeRepeated } from './rules/time-repeated.js';
import { rule as timeReversed } from './rules/time-reversed.js';
import { rule as unitUnknown } from './rules/unit-unknown.js';
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
  axisNotMonotonic,
  targetUnsafe,
  vehicleInvalid,
  fileMissing,
];
