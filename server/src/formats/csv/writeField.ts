// Text of a file as a field of a CSV that is written for others: quoted by RFC 4180, and never a formula to the spreadsheet that opens it.

/** What a spreadsheet takes for a formula begins so (OWASP, CSV injection); a plain number with a sign is none. */
const FORMULA = /^[\s]*[=+\-@\t\r]/;
const NUMBER = /^\s*[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:e[+-]?\d+)?\s*$/i;

/** A field as written. What could be a formula gets an apostrophe before it, which a spreadsheet shows as text. */
export function csvField(text: string): string {
  const harmless = FORMULA.test(text) && !NUMBER.test(text) ? `'${text}` : text;
  return /[",;\t\r\n]/.test(harmless) ? `"${harmless.replaceAll('"', '""')}"` : harmless;
}
