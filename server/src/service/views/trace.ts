// The session as a picture: what there is to draw, a window of it, one sample in full, and the ways to the text and the table. The session
// is asked where it is at hand; here its answers come together.

import type {
  CsvParams,
  CsvResult,
  RunsParams,
  RunsResult,
  SampleParams,
  SpanParams,
  SpanResult,
  TraceSample,
  TraceSpell,
  TraceSummary,
  VisitsParams,
  VisitsResult,
  WindowParams,
  WindowResult,
} from '../../protocol/trace.js';
import { packTables } from '../../protocol/numberTables.js';
import type { FileCheck } from '../check.js';
import type { Documents, Keyed } from '../documents.js';
import type { Weigher } from '../evidence.js';
import { movedLine, placeBefore } from '../followEdits.js';
import type { FuelOf } from '../fuelOf.js';
import { cellWords } from '../editor/sessionHover.js';
import type { About, Asked, Said } from '../sessionQuestion.js';
import { cellAt } from '../editor/tableHover.js';
import type { Picture } from './traceAnswers.js';
import { overlayRuns } from './traceRuns.js';
import { baseName } from '../uris.js';

export interface TraceService {
  summary(uri: string): Promise<TraceSummary | undefined>;
  window(params: WindowParams): Promise<WindowResult<Uint8Array> | undefined>;
  sample(params: SampleParams): Promise<TraceSample | undefined>;
  span(params: SpanParams): Promise<SpanResult | undefined>;
  runs(params: RunsParams): Promise<RunsResult<Uint8Array> | undefined>;
  visits(params: VisitsParams): Promise<VisitsResult | undefined>;
  csv(params: CsvParams): Promise<CsvResult | undefined>;
}

type Before = Awaited<ReturnType<Documents['before']>>;

export interface TraceParts {
  readonly documents: Documents;
  readonly weigher: Weigher;
  readonly check: (uri: string) => Promise<FileCheck | undefined>;
  readonly fuelOf: FuelOf;
}

/** Every answer is undefined for a file that is no session, or is gone. */
export function createTrace({ documents, weigher, check, fuelOf }: TraceParts): TraceService {
  /** While somebody types, a view shows what was read before: it is asked about that. */
  const ask = async <A extends About>(uri: string, about: A, asked: Asked<A>, before?: Before): Promise<Keyed<Said<A>> | undefined> => {
    if ((await documents.kindOf(uri))?.kind !== 'session') return undefined;
    const read = before ?? (await documents.before(uri));
    try {
      if (read) return { key: read.key, value: await read.ask(about, asked) };
    } catch {
      /* It is no longer at hand. */
    }
    return documents.ask(uri, about, asked);
  };
  const said = async <A extends About>(uri: string, about: A, asked: Asked<A>): Promise<Said<A> | undefined> =>
    (await ask(uri, about, asked))?.value;

  return {
    async summary(uri) {
      if ((await documents.kindOf(uri))?.kind !== 'session') return undefined;
      const checking = check(uri);
      // It is awaited below, and may fail before that.
      checking.catch(() => undefined);
      // Of a long open text the judging leaves it at hand.
      if (await documents.isElsewhere(uri)) await checking;
      const [picture, judged, { fuel }] = await Promise.all([documents.ask(uri, 'picture', null), checking, fuelOf(uri)]);
      return (
        picture?.value && {
          ...picture.value.summary,
          uri,
          name: baseName(uri),
          key: picture.key,
          spells: spellsOf(picture.value, judged?.findings ?? []),
          ...(fuel ? { fuelTable: fuel.name } : {}),
        }
      );
    },

    async window({ uri, ...asked }) {
      const window = await ask(uri, 'window', asked);
      return window?.value && { ...window.value, key: window.key };
    },

    async sample({ uri, ...asked }) {
      const before = await documents.before(uri),
        edits = before?.edits ?? [],
        there = asked.line === undefined ? undefined : placeBefore({ line: asked.line, character: 0 }, edits);
      // A row that was typed in tells its sample when it is read again.
      if (asked.line !== undefined && !there) return undefined;
      const fuel = await fuelOf(uri),
        read = await ask(uri, 'sample', { ...asked, ...(there ? { line: there.line } : {}), ...fuel }, before),
        sample = read?.value;
      if (before && read && read.key !== before.key) return said(uri, 'sample', { ...asked, ...fuel });
      return sample && { ...sample, line: movedLine(sample.line, edits) ?? sample.line };
    },

    span: ({ uri, ...asked }) => said(uri, 'span', asked),
    csv: ({ uri, ...asked }) => said(uri, 'rows', asked),

    async runs({ runs, uri: _, ...options }) {
      const found = await Promise.all(
        runs.map(async ({ uri, run }) => said(uri, 'run', { run, channels: options.channels, ...(await fuelOf(uri)) })),
      );
      const { tables, offsetsS } = overlayRuns(found, options);
      return { ...packTables(tables), offsetsS, directions: found.map((run) => run?.direction ?? 'up') };
    },

    async visits({ uri, line, character, session }) {
      const table = await documents.table(uri),
        text = await documents.text(uri);
      const cell = table && cellAt(table.value, { line, character });
      if (!table || !cell || text === undefined) return undefined;
      const evidence = await weigher.evidence(uri);
      const moments = evidence?.value.cells[cell.row * table.value.columns.values.length + cell.column]?.moments ?? [];
      const sessions = (evidence?.value.sessions ?? []).map((each, index) => ({
        uri: each.session,
        samples: moments.filter((moment) => moment.session === index).length,
      }));
      const visits =
        session === undefined
          ? undefined
          : await said(session, 'visits', { table: text, row: cell.row, column: cell.column, ...(await fuelOf(session)) });
      const index = sessions.findIndex((each) => each.uri === session);
      return {
        cell: cellWords(table.value, cell.row, cell.column),
        sessions: sessions.filter(({ samples }) => samples > 0).sort((a, b) => b.samples - a.samples),
        visits: visits ?? [],
        ...(visits && index >= 0 ? { worstS: moments.find((moment) => moment.session === index)?.timeS } : {}),
      };
    },
  };
}

/** Findings name a channel by its quantity or its header. */
function spellsOf({ summary: { channels }, headers }: Picture, findings: FileCheck['findings']): TraceSpell[] {
  const idOf = (channel: string): string | undefined =>
    (channels.find(({ id }) => id === channel) ?? channels[headers.indexOf(channel)])?.id;
  return findings
    .flatMap(({ code, severity, message, channel, timeS, range: { start } }) =>
      timeS
        ? [
            {
              code,
              severity,
              message,
              fromS: timeS[0],
              toS: timeS[1],
              line: start.line,
              character: start.character,
              ...(channel === undefined ? {} : { channel: idOf(channel) }),
            },
          ]
        : [],
    )
    .sort((a, b) => a.fromS - b.fromS);
}
