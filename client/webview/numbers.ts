// Numbers for the eye, with the decimal sign of the editor's language; what goes into a file or to the extension has a point.

import { decimalSign, withDecimalSign } from '../../server/src/quantities/format.js';

/** The page is in the editor's language; tests have no page. */
const sign = decimalSign((globalThis as { document?: Document }).document?.documentElement.lang);

/** Words that this side has put numbers into. */
export const shown = (text: string): string => withDecimalSign(text, sign);

export const fixed = (value: number, decimals: number): string => shown(value.toFixed(decimals));
