// The cursor and the mark: where they stand, and the readings there and between them. Against time an x is a time; of runs over each
// other it is a place on the first.

import type { SpanResult, TraceSample, TraceSummary } from '../../server/src/protocol/trace.js';
import { perFrame } from './dom.js';
import { placeOnRun, timeOnRun, type RunNumbers } from './laneViews.js';
import type { Readout } from './readout.js';
import type { ViewState } from './state.js';
import type { TraceHost } from './view.js';

/** What the two stand on. */
export interface Ground {
  readonly state: ViewState;
  readonly summary: TraceSummary;
  readonly ofRuns: RunNumbers | undefined;
}

export interface CursorTold {
  moved(change: Pick<ViewState, 'cursorS'> | Pick<ViewState, 'markS'>): void;
  /** The sample at the cursor has come. */
  placed(sample: TraceSample): void;
  /** What lies between cursor and mark has come. */
  spanned(span: SpanResult): void;
  failed(answer: { readonly type: string; readonly message?: string }): void;
}

export class CursorAndMark {
  private sample: TraceSample | undefined;
  private span: SpanResult | undefined;

  constructor(
    private readonly host: TraceHost,
    private readonly ground: () => Ground,
    private readonly readout: Readout,
    private readonly told: CursorTold,
  ) {}

  private timeAt(x: number): number | undefined {
    const { state, ofRuns, summary } = this.ground();
    return state.against === 'time' ? x : timeOnRun(ofRuns, summary, x);
  }

  private xAt(timeS: number | undefined): number | undefined {
    const { state, ofRuns, summary } = this.ground();
    return state.against === 'time' || timeS === undefined ? timeS : placeOnRun(ofRuns, summary, timeS);
  }

  get cursorX(): number | undefined {
    return this.xAt(this.ground().state.cursorS);
  }
  get markX(): number | undefined {
    return this.xAt(this.ground().state.markS);
  }

  /** The readings under the mouse, without moving the cursor; undefined where the mouse has left. */
  readonly look = perFrame((x: number | undefined) => {
    const timeS = x === undefined ? undefined : this.timeAt(x);
    if (timeS === undefined) {
      this.readout.at(this.sample);
      return;
    }
    this.host.ask('look', { type: 'cursor', timeS, place: false }, (answer) => {
      if (answer.type === 'sample') this.readout.at(answer.sample);
    });
  });

  placeAt(x: number): void {
    const timeS = this.timeAt(x);
    if (timeS === undefined) return;
    this.host.acts();
    this.ask(timeS, true);
  }

  markAt(x: number): void {
    this.told.moved({ markS: this.timeAt(x) });
    this.askSpan();
  }

  unmark(): void {
    this.told.moved({ markS: undefined });
    this.askSpan();
  }

  /** The cursor goes to the sample nearest to a time; the text's cursor too where `place` says so. */
  ask(timeS: number, place: boolean): void {
    this.told.moved({ cursorS: timeS });
    this.host.ask('cursor', { type: 'cursor', timeS, place }, (answer) => {
      if (answer.type === 'sample') this.put(answer.sample);
      else this.told.failed(answer);
    });
  }

  put(sample: TraceSample): void {
    this.sample = sample;
    this.told.moved({ cursorS: sample.timeS });
    this.readout.at(sample);
    this.told.placed(sample);
    this.askSpan();
  }

  private askSpan(): void {
    const { cursorS, markS } = this.ground().state;
    if (cursorS === undefined || markS === undefined) {
      this.readout.span((this.span = undefined), true);
      return;
    }
    this.host.ask('span', { type: 'span', fromS: Math.min(cursorS, markS), toS: Math.max(cursorS, markS) }, (answer) => {
      if (answer.type !== 'span') return;
      this.readout.span((this.span = answer.span), cursorS <= markS);
      this.told.spanned(answer.span);
    });
  }

  /** The numbers again, in a readout that was built anew. */
  showReadings(): void {
    const { cursorS, markS } = this.ground().state;
    this.readout.at(this.sample);
    this.readout.span(this.span, (cursorS ?? 0) <= (markS ?? 0));
  }
}
