// The part of the vehicle file's schema that holds at a path of keys.

import { vehicleSchema, type Schema } from './vehicleSchema.js';

/** Undefined where the schema knows no such key. Of alternatives the one that has the next key is followed. */
export function schemaAt(path: readonly (string | number)[]): Schema | undefined {
  let schema: Schema | undefined = vehicleSchema;
  for (const key of path) schema = schema && stepInto(schema, key);
  return schema;
}

function stepInto(schema: Schema, key: string | number): Schema | undefined {
  if (typeof key === 'number') return schema.items ?? firstOf(schema, key);
  const own = schema.properties && Object.hasOwn(schema.properties, key) ? schema.properties[key] : undefined;
  return own ?? (schema.additionalProperties || undefined) ?? firstOf(schema, key);
}

function firstOf(schema: Schema, key: string | number): Schema | undefined {
  for (const each of schema.anyOf ?? []) {
    const found = stepInto(each, key);
    if (found) return found;
  }
  return undefined;
}

/** Texts that may stand there: those that must, else examples. */
export function valuesOf(schema: Schema | undefined): string[] {
  if (!schema) return [];
  if (schema.enum) return [...schema.enum];
  const constants = (schema.anyOf ?? []).flatMap((each) => each.const ?? []);
  const examples = (schema.examples ?? []).filter((example): example is string => typeof example === 'string');
  return [...new Set([...constants, ...examples])];
}
