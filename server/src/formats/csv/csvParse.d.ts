// The part of csv-parse that the core uses, typed without Node: its own types would pull Node's into the core.

export interface FieldContext {
  readonly column: number | string;
  /** Bytes read up to the end of the field or record. */ readonly bytes: number;
}

export function parse(
  input: Uint8Array,
  options: {
    delimiter: string;
    quote: string;
    escape: string;
    record_delimiter: readonly string[];
    encoding: 'latin1';
    relax_quotes: boolean;
    relax_column_count: boolean;
    ltrim: boolean;
    comment: string;
    comment_no_infix: boolean;
    cast?: (value: string, context: FieldContext) => unknown;
    on_record: (record: readonly string[], context: FieldContext) => unknown;
  },
): unknown[];
