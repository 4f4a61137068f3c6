// One number with signs between its thousands, where it cannot be anything else: told by two different signs, or by blanks.

/**
 * `1.002,0`, `1,002.5`, `1 020` (blank, no-break, thin or narrow no-break: ISO 80000-1, 7.3.1): groups of exactly three behind a first that
 * no zero leads. `1.002` alone has one sign, the decimal one.
 */
const PARTED = /^[+-]?[1-9]\d{0,2}(?:(?:\.\d{3})+,\d+|(?:,\d{3})+\.\d+|(?:[ \u00a0\u2009\u202f]\d{3})+(?:[.,]\d+)?)$/;

/** Its value; undefined for any other text. */
export const partedNumber = (text: string): number | undefined => {
  if (!PARTED.test(text)) return undefined;
  const decimal = Math.max(text.lastIndexOf('.'), text.lastIndexOf(','));
  return Number(text.replace(/[^\d+-]/g, (_sign, at: number) => (at === decimal ? '.' : '')));
};
