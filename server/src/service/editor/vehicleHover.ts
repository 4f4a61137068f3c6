// What a key of a vehicle file means, from its schema.

import { getLocation } from 'jsonc-parser';
import { isTooDeep } from '../../formats/vehicle/jsonText.js';
import type { Position } from '../../formats/range.js';
import type { Card } from './card.js';
import { schemaAt } from '../../formats/vehicle/schemaAt.js';
import { offsetAt, positionAt } from './vehicleCompletion.js';

/** Undefined off the keys and values, and for a key that the schema does not know. */
export function vehicleHover(text: string, position: Position): Card | undefined {
  if (isTooDeep(text)) return undefined;
  const offset = offsetAt(text, position);
  const { path, previousNode: node } = getLocation(text, offset);
  const schema = schemaAt(path);
  if (!node || offset > node.offset + node.length || path.length === 0 || !schema?.description) return undefined;
  return {
    range: { start: positionAt(text, node.offset), end: positionAt(text, node.offset + node.length) },
    title: path.join('.'),
    rows: [],
    notes: [schema.description],
  };
}
