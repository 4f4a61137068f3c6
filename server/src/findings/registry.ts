// Every rule there is, in the order of the contract's list of codes. To add one: its file in rules/, an import and a line here.

import type { Rule } from './finding.js';

export const RULES: readonly Rule[] = [
];
