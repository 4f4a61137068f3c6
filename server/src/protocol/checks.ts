// How the messages of a view are checked on arrival: small checks put together, one for each part of a message.

export type Check = (value: unknown) => boolean;
/** A check for every part of every message of a union; the compiler asks for those that are missing. */
export type Checks<Message extends { readonly type: string }> = {
  readonly [Type in Message['type']]: { readonly [Key in Exclude<keyof Extract<Message, { type: Type }>, 'type'>]-?: Check };
};

export const isNumber: Check = (value) => typeof value === 'number' && Number.isFinite(value);
export const isCount: Check = (value) => Number.isSafeInteger(value) && (value as number) >= 0;
export const isText: Check = (value) => typeof value === 'string';
export const isBoolean: Check = (value) => typeof value === 'boolean';
export const isBytes: Check = (value) => value instanceof Uint8Array;
export const isAsk: Check = (value) => Number.isSafeInteger(value);
export const isPair: Check = (value) => Array.isArray(value) && value.length === 2 && value.every(isNumber);
export const orNull =
  (check: Check): Check =>
  (value) =>
    value === null || check(value);
export const oneOf =
  (...texts: string[]): Check =>
  (value) =>
    typeof value === 'string' && texts.includes(value);
export const listOf =
  (check: Check, most = 100_000): Check =>
  (value) =>
    Array.isArray(value) && value.length <= most && value.every(check);
export const has =
  (checks: Readonly<Record<string, Check>>): Check =>
  (value) =>
    typeof value === 'object' &&
    value !== null &&
    Object.entries(checks).every(([key, check]) => check((value as Record<string, unknown>)[key]));
export const mapOf =
  (check: Check): Check =>
  (value) =>
    typeof value === 'object' && value !== null && !Array.isArray(value) && Object.values(value).every(check);

/** Whether a value is one of the messages that the checks are of, whole. */
export const passes = (checks: Readonly<Record<string, Readonly<Record<string, Check>>>>, value: unknown): boolean => {
  const type = (value as { type?: unknown } | null)?.type;
  return typeof type === 'string' && Object.hasOwn(checks, type) && has(checks[type]!)(value);
};
