// Cells with commas in them where commas part the cells: thousands signs, told from decimal commas by the whole column.

/** `2,028`, `1,234,567.5`: groups of three behind a first that no zero leads, which a decimal comma would (`0,850`). */
const GROUPED = /^[+-]?[1-9]\d{0,2}(?:,\d{3})+(?:\.\d+)?$/;
const ANY_COMMA = /^[+-]?\d*(?:,\d+)+(?:\.\d*)?$/;

/** The cells of one column that have a comma. */
export interface CommaCells {
  readonly samples: number[];
  readonly values: number[];
  /** The first few as written. */
  readonly texts: string[];
  /** Whether every one of them can be a number with thousands signs. */
  grouped: boolean;
}

/** Notes a cell of digits and commas; false where the text is anything else. */
export const noteComma = (cells: Map<number, CommaCells>, text: string, column: number, sample: number): boolean => {
  if (!ANY_COMMA.test(text)) return false;
  let found = cells.get(column);
  if (!found) cells.set(column, (found = { samples: [], values: [], texts: [], grouped: true }));
  if (!GROUPED.test(text)) found.grouped = false;
  if (found.texts.length < 3) found.texts.push(text);
  found.samples.push(sample);
  found.values.push(Number(text.replaceAll(',', '')));
  return true;
};
