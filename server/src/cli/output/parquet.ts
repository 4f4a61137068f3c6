// Samples as Apache Parquet, a row group at a time: one file however many sessions, and no more in memory than a group.

import { SAMPLE_COLUMNS, type SampleColumn, type SampleValues } from '../../service/sampleColumns.js';
import { VERSION } from '../../protocol/version.js';

export interface ParquetFile {
  write(values: SampleValues): Promise<void>;
  finish(): Promise<void>;
}

/** Goes up where a column changes its meaning. */
export const SAMPLES_SCHEMA = 1;

/** What the columns mean stands in the file's own metadata, under this key. */
const METADATA_KEY = 'leanspot';

const element = ({ name, type }: SampleColumn) => ({
  name,
  repetition_type: 'OPTIONAL' as const,
  ...(type === 'STRING' ? { type: 'BYTE_ARRAY' as const, converted_type: 'UTF8' as const } : { type }),
});

/** Begins a file; what is there by that name is replaced. */
export async function openParquet(path: string): Promise<ParquetFile> {
  // Loaded when it is asked for: no other command needs it.
  const { fileWriter, ParquetWriter } = await import('hyparquet-writer');
  const writer = new ParquetWriter({
    writer: fileWriter(path),
    schema: [{ name: 'samples', num_children: SAMPLE_COLUMNS.length }, ...SAMPLE_COLUMNS.map(element)],
    kvMetadata: [{ key: METADATA_KEY, value: JSON.stringify({ schema: SAMPLES_SCHEMA, columns: SAMPLE_COLUMNS }) }],
    createdBy: `leanspot ${VERSION}`,
  });
  return {
    write: async (values) => {
      const columnData = SAMPLE_COLUMNS.map(({ name }) => ({ name, data: values.get(name) ?? [] }));
      await writer.write({ columnData, rowGroupSize: Math.max(1, columnData[0].data.length) });
    },
    finish: async () => {
      await writer.finish();
    },
  };
}
