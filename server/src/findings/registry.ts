// Every rule there is, in the order of the contract's list of codes. To add one: its file in rules/, an import and a line here.

import type { Rule } from './finding.js';
import { rule as axisNotMonotonic } from './rules/axis-not-monotonic.js';
import { rule as fileMissing } from './rules/file-missing.js';
import { rule as targetUnsafe } from './rules/target-unsafe.js';
import { rule as vehicleInvalid } from './rules/vehicle-invalid.js';

export const RULES: readonly Rule[] = [
  axisNotMonotonic,
  targetUnsafe,
  vehicleInvalid,
  fileMissing,
];
