// The numbers that the view draws: asks for them, keeps the newest of each kind, and tells when one has come.

import { unpackTables, type NumberTable } from '../../server/src/protocol/numberTables.js';
import { RUN_TIME, type TraceSummary } from '../../server/src/protocol/trace.js';
import type { Numbers, RunNumbers } from './laneViews.js';
import type { Range, ViewState } from './state.js';
import { lineOf, type Line } from './tables.js';
import type { TraceHost } from './view.js';

/** The close look reaches this share of the span beyond both ends, so that a move shows something at once. */
const MARGIN = 0.3;
/** Of the session: where more of it is shown, the wide look is close enough. */
const NEARLY_ALL = 0.9;
const STRIP_CHANNEL = 'engine-speed';

/** What is asked about. */
export interface Asker {
  readonly state: ViewState;
  readonly summary: TraceSummary;
  /** Of the plots, so that no more is sent than can be seen. */
  readonly pixels: number;
}

export interface NumbersTold {
  wide(): void;
  close(): void;
  runs(): void;
  failed(answer: { readonly type: string; readonly message?: string }): void;
}

export class AskedNumbers {
  /** Over time. */
  ofTime: Numbers | undefined;
  ofRuns: RunNumbers | undefined;

  constructor(
    private readonly host: TraceHost,
    private readonly asker: () => Asker,
    private readonly told: NumbersTold,
  ) {}

  forget(): void {
    this.ofTime = this.ofRuns = undefined;
  }

  /** The whole session, for the lanes and the strip. */
  askWide(): void {
    const {
      state,
      summary: { channels: known, fromS, toS },
      pixels,
    } = this.asker();
    const channels = [...new Set([...state.lanes.flat(), ...(known.some(({ id }) => id === STRIP_CHANNEL) ? [STRIP_CHANNEL] : [])])];
    this.host.ask('wide', { type: 'window', channels, fromS, toS, pixels }, (answer) => {
      const table = answer.type === 'window' ? unpackTables(answer)?.[0] : undefined;
      if (!table) return this.told.failed(answer);
      this.ofTime = { channels, wide: table, close: undefined };
      this.told.wide();
      this.askClose();
    });
  }

  /** What is shown, where that is a part. */
  askClose(): void {
    const numbers = this.ofTime;
    const {
      state: { range, against },
      summary,
      pixels,
    } = this.asker();
    const shown = range.to - range.from;
    if (!numbers || against !== 'time' || shown > (summary.toS - summary.fromS) * NEARLY_ALL) return;
    const margin = shown * MARGIN;
    this.host.ask(
      'close',
      {
        type: 'window',
        channels: numbers.channels,
        fromS: range.from - margin,
        toS: range.to + margin,
        pixels: Math.round(pixels * (1 + 2 * MARGIN)),
      },
      (answer) => {
        const table = answer.type === 'window' ? unpackTables(answer)?.[0] : undefined;
        if (!table) return this.told.failed(answer);
        // Lanes may have changed meanwhile; their numbers are on their way.
        if (this.ofTime?.channels !== numbers.channels) return;
        this.ofTime = { ...this.ofTime, close: table };
        this.told.close();
      },
    );
  }

  askRuns(): void {
    const {
      state: { lanes, runs, align, alignRpm, against },
      pixels,
    } = this.asker();
    const channels = [...new Set(lanes.flat()), RUN_TIME];
    this.host.ask(
      'runs',
      { type: 'runs', runs, channels, against: against === 'speed' ? 'speed' : 'seconds', align, alignRpm, pixels },
      (answer) => {
        const tables = answer.type === 'runs' ? unpackTables(answer) : undefined;
        if (!tables || answer.type !== 'runs') return this.told.failed(answer);
        if (this.asker().state.against === 'time') return;
        this.ofRuns = { refs: runs, channels, tables, offsetsS: answer.offsetsS };
        this.told.runs();
      },
    );
  }

  /** From the first to the last x of all runs. */
  get wholeRuns(): Range {
    const xs = (this.ofRuns?.tables ?? []).flatMap(({ x }) => (x.length > 0 ? [x[0], x[x.length - 1]] : []));
    return xs.length > 0 ? { from: Math.min(...xs), to: Math.max(...xs) } : { from: 0, to: 1 };
  }

  /** The line of the strip below the lanes: engine speed, else the first channel. */
  get strip(): { readonly x: NumberTable['x']; readonly line: Line | undefined } {
    const { wide, channels }: Pick<Numbers, 'wide' | 'channels'> = this.ofTime ?? {
      wide: { x: new Float64Array(), columns: [] },
      channels: [],
    };
    const column = wide.columns[channels.indexOf(STRIP_CHANNEL)] ?? wide.columns[0];
    return { x: wide.x, line: column && lineOf(column, (value) => value) };
  }
}
