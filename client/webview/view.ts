// The view as a whole: holds the state, and tells each part what has changed.

import type { TraceSample, TraceSpell, TraceSummary } from '../../server/src/protocol/trace.js';
import type { FromTraceView, KeptView, ToTraceView } from '../../server/src/protocol/traceMessages.js';
import { fill, type TraceWords } from '../../server/src/protocol/traceWords.js';
import { AskedNumbers } from './askedNumbers.js';
import { fillBar } from './bar.js';
import { CursorAndMark } from './cursorAndMark.js';
import { afterQuiet, el, perFrame } from './dom.js';
import type { Host } from './host.js';
import { actOf, type Act } from './keys.js';
import { runLegend, viewsOf } from './laneViews.js';
import { findingList, runList } from './lists.js';
import { fixed } from './numbers.js';
import { readPalette, type Palette } from './palette.js';
import { Readout } from './readout.js';
import { copySpan, saveDrawing, savePicture } from './saving.js';
import { pictureTitle, sampleWords, shownWords, viewWords } from './speech.js';
import { Stack, swatch, type LaneView, type LegendEntry } from './stack.js';
import {
  around,
  firstState,
  moved,
  restored,
  takenOut,
  usualLanes,
  within,
  withChannel,
  without,
  withVisits,
  type Range,
  type ViewState,
} from './state.js';
import { Strip } from './strip.js';
import { doAct } from './traceActs.js';
import { TraceFrame } from './traceFrame.js';

export type TraceHost = Host<FromTraceView, ToTraceView>;

export class View {
  private state: ViewState;
  private palette: Palette = readPalette();
  private runRange: Range | undefined;
  private others: readonly TraceSummary[] = [];
  /** The user was asked for another session. */
  private adding = false;
  private readonly numbers: AskedNumbers;
  private readonly stack: Stack;
  private readonly strip: Strip;
  private readonly readout: Readout;
  private readonly cursor: CursorAndMark;
  private readonly frame: TraceFrame;

  constructor(
    private readonly host: TraceHost,
    private summary: TraceSummary,
    private readonly words: TraceWords,
    kept: KeptView | null,
  ) {
    this.state = restored(host.state, summary) ?? firstState(summary, kept);
    this.stack = new Stack(
      {
        range: () => this.range,
        setRange: (range) => this.setRange(range),
        look: (x) => this.cursor.look(x),
        place: (x) => this.cursor.placeAt(x),
        mark: (x) => this.cursor.markAt(x),
        laneMove: (lane, by) => this.do({ do: 'laneMove', by }, lane),
        laneJoin: (lane) => this.do({ do: 'laneJoin' }, lane),
        laneRemove: (lane) => this.do({ do: 'laneRemove' }, lane),
        takeOut: (id) => this.set({ lanes: takenOut(this.state.lanes, id) }),
        focusLane: (lane) => this.set({ lane }),
      },
      words,
    );
    this.numbers = new AskedNumbers(host, () => ({ state: this.state, summary: this.summary, pixels: Math.round(this.stack.plotWidth) }), {
      wide: () => this.showWide(),
      close: () => this.refill(false),
      failed: (answer) => this.failed(answer),
      runs: () => {
        this.runRange = this.numbers.wholeRuns;
        this.rebuild();
      },
    });
    this.strip = new Strip(words.range, (range) => this.setRange(range));
    this.readout = new Readout(words, {
      show: (id, shown) => this.set({ lanes: shown ? withChannel(this.state.lanes, id) : without(this.state.lanes, id) }),
      unit: (key, symbol) => this.set({ units: { ...this.state.units, [key]: symbol } }),
      openRow: () => this.do({ do: 'row' }),
      openCell: () => this.do({ do: 'cell' }),
    });
    this.cursor = new CursorAndMark(host, () => ({ state: this.state, summary: this.summary, ofRuns: this.numbers.ofRuns }), this.readout, {
      moved: (change) => this.set(change),
      placed: (sample) => this.saySample(sample),
      failed: (answer) => this.failed(answer),
      spanned: ({ fromS, toS }) => {
        this.frame.told.textContent = fill(words.span, `${fixed(toS - fromS, 3)} s`);
      },
    });
    this.frame = new TraceFrame(
      words,
      { stack: this.stack.element, strip: this.strip.element, readout: this.readout.element },
      {
        key: (event) => this.key(event),
        reset: () => this.set({ lanes: usualLanes(this.summary.channels) }),
        copy: () => copySpan(host, this.state),
        picture: () => void savePicture(host, this.stack, this.palette),
        drawing: () =>
          saveDrawing(host, this.stack, pictureTitle(this.state, this.range, this.summary, words), this.legendEntries, this.palette),
      },
    );
    new ResizeObserver(
      perFrame(() => {
        this.stack.resize();
        this.strip.draw(this.state.range);
        this.numbers.askClose();
      }),
    ).observe(this.frame.plots);
    new MutationObserver(
      perFrame(() => {
        this.palette = readPalette();
        this.rebuild();
      }),
    ).observe(document.body, { attributes: true, attributeFilter: ['class'] });
    this.rebuild();
    this.askAll();
    const elsewhere = [...new Set(this.state.runs.map(({ uri }) => uri).filter((uri) => uri !== summary.uri))];
    if (elsewhere.length > 0) this.host.send({ type: 'addSession', uris: elsewhere });
    this.frame.plots.focus();
  }

  private askAll(): void {
    this.numbers.askWide();
    if (this.state.against !== 'time') this.numbers.askRuns();
    if (this.state.cursorS !== undefined) this.cursor.ask(this.state.cursorS, false);
  }

  // What the extension tells.

  /** The file changed: everything is asked for anew, the view stays where it is. */
  renew(summary: TraceSummary): void {
    const changed = summary.key !== this.summary.key;
    this.summary = summary;
    if (!changed) return;
    this.state = restored(this.state, summary) ?? firstState(summary, null);
    this.numbers.forget();
    this.rebuild();
    this.askAll();
  }

  addOthers(summaries: readonly TraceSummary[]): void {
    this.others = summaries;
    // Only a session that was asked for brings a run of its own; others come back with those that were chosen.
    const added = this.adding ? summaries.at(-1) : undefined;
    this.adding = false;
    const best = added?.runs.findIndex(({ pull }) => pull > 0) ?? -1;
    if (added && best >= 0 && !this.state.runs.some(({ uri }) => uri === added.uri)) {
      this.set({
        runs: [...this.state.runs, { uri: added.uri, run: best }],
        against: this.state.against === 'time' ? 'overlay' : this.state.against,
      });
    } else this.rebuild();
  }

  /** The text's cursor was put on a row. */
  follow(sample: TraceSample): void {
    this.cursor.put(sample);
    if (this.state.against !== 'time') return;
    const { from, to } = this.state.range;
    if (sample.timeS < from || sample.timeS > to) this.setRange(moved(this.state.range, sample.timeS - (from + to) / 2));
  }

  /** By the user's hand. */
  private show(fromS: number, toS: number, atS: number): void {
    this.host.acts();
    this.showSpan(fromS, toS, atS);
  }

  private showSpan(fromS: number, toS: number, atS: number): void {
    this.set({ against: 'time', range: this.inSession(around(fromS, toS)) });
    this.cursor.ask(atS, false);
  }

  visits(cell: string, visits: readonly (readonly [number, number])[], worstS: number | null): void {
    const message = visits.length > 0 ? fill(this.words.visits, cell, visits.length) : fill(this.words.noVisits, cell);
    this.summary = withVisits(this.summary, cell, visits, message, this.state.lanes[0]?.[0]);
    this.rebuild();
    if (visits.length > 0) this.showSpan(visits[0][0], visits[visits.length - 1][1], worstS ?? visits[0][0]);
    this.tell(message);
  }

  tell(message: string): void {
    this.frame.tell(message);
  }

  // State.

  private get range(): Range {
    return this.state.against === 'time' ? this.state.range : (this.runRange ?? { from: 0, to: 1 });
  }

  private set(change: Partial<ViewState>): void {
    const before = this.state;
    const next = (this.state = { ...before, ...change });
    if (next.lane >= next.lanes.length) this.state = { ...next, lane: Math.max(0, next.lanes.length - 1) };
    const differs = (...keys: (keyof ViewState)[]): boolean => keys.some((key) => before[key] !== this.state[key]);
    if (differs('against', 'runs', 'align', 'alignRpm')) this.numbers.ofRuns = undefined;
    if (differs('lanes', 'units', 'against', 'fit', 'runs', 'align', 'alignRpm')) this.rebuild();
    if (differs('lanes', 'against', 'runs', 'align', 'alignRpm')) {
      if (this.state.against !== 'time') this.numbers.askRuns();
      else if (differs('lanes') || !this.numbers.ofTime) this.numbers.askWide();
    }
    if (differs('range')) {
      this.draw();
      this.numbers.askClose();
    }
    if (differs('cursorS', 'markS')) this.stack.setLines(this.cursor.cursorX, this.cursor.markX);
    if (differs('lane')) this.stack.showLane(this.state.lane);
    if (differs('lanes', 'units')) this.host.send({ type: 'keep', kept: { lanes: this.state.lanes, units: this.state.units } });
    if (differs('lanes', 'against', 'range', 'runs')) this.sayView();
    // A span in motion waits for its end; what was chosen is kept at once, for a view may be hidden the moment after.
    if (differs('range') || differs('cursorS')) this.keep();
    else this.host.state = this.state;
  }

  private readonly keep = afterQuiet(() => {
    this.host.state = this.state;
  }, 150);
  private readonly sayView = afterQuiet(() => {
    this.frame.said.textContent = viewWords(this.state, this.range, this.summary, this.words);
  }, 600);
  private readonly saySample = afterQuiet((sample: TraceSample) => {
    this.frame.said.textContent = sampleWords(sample, this.state, this.summary, this.words);
  }, 300);

  private inSession(range: Range): Range {
    return within(
      range,
      { from: this.summary.fromS, to: this.summary.toS },
      Math.min(this.summary.stepS * 8, this.summary.toS - this.summary.fromS),
    );
  }

  private setRange(range: Range): void {
    if (this.state.against === 'time') {
      this.set({ range: this.inSession(range) });
      return;
    }
    const whole = this.numbers.wholeRuns;
    this.runRange = within(range, whole, (whole.to - whole.from) / 2000);
    this.draw();
    this.sayView();
  }

  // Numbers.

  private showWide(): void {
    this.refill(true);
    this.showStrip();
    requestAnimationFrame(() => {
      document.body.dataset.painted = 'true';
    });
  }

  private showStrip(): void {
    const { x, line } = this.numbers.strip;
    this.strip.show(this.summary, this.palette, x, line, this.state.range);
  }

  private failed(answer: { readonly type: string; readonly message?: string }): void {
    if (answer.type === 'failed' && answer.message) this.tell(answer.message);
  }

  private makeViews(): readonly LaneView[] {
    return viewsOf(this.state, this.summary, this.others, this.numbers, this.words, this.palette.lines.length - 1);
  }

  /** Everything that hangs on lanes, units, theme or way of drawing. */
  private rebuild(): void {
    this.isStale = false;
    fillBar(this.frame.bar, this.state.against, this.words, { against: (against) => this.set({ against }), do: (act) => this.do(act) });
    this.showLegend();
    this.stack.build(this.makeViews(), this.palette);
    this.stack.showLane(this.state.lane);
    this.readout.build(this.summary, this.state);
    this.cursor.showReadings();
    this.showRuns();
    this.frame.findings.replaceChildren(findingList(this.summary, this.words, (spell) => this.openSpell(spell)));
    this.showStrip();
    this.stack.setLines(this.cursor.cursorX, this.cursor.markX);
    this.showWords();
  }

  private showWords(): void {
    this.frame.shown.textContent = shownWords(this.state, this.range, this.summary, this.words);
  }

  /** Runs over each other have their names in a line of its own, where they cover no curve. */
  private get legendEntries(): LegendEntry[] {
    return this.state.against === 'time'
      ? []
      : runLegend(this.summary, this.others, this.numbers.ofRuns, this.words, this.palette.lines.length);
  }

  private showLegend(): void {
    const entries = this.legendEntries;
    this.frame.legend.hidden = entries.length === 0;
    this.frame.legend.replaceChildren(
      ...entries.map(({ name, colour, dash }) => el('span', { class: 'chip' }, swatch(this.palette, colour, dash), name)),
    );
  }

  /** New numbers for the lanes that stand; their heights are those of the wide look. */
  private refill(heights: boolean): void {
    if (this.state.against !== 'time') return;
    this.isStale = true;
    if (heights) this.stack.setHeights(this.makeViews());
    this.draw();
  }

  private isStale = false;

  /** At most once a frame, whatever has changed. */
  private readonly draw = perFrame(() => {
    const views = this.isStale && this.state.against === 'time' ? this.makeViews() : undefined;
    this.isStale = false;
    this.stack.draw(views);
    this.strip.draw(this.state.range);
    this.showWords();
  });

  private showRuns(): void {
    this.frame.runs.replaceChildren(
      runList(this.state, this.summary, this.others, this.words, this.palette, {
        choose: (ref, chosen) => {
          const others = this.state.runs.filter(({ uri, run }) => uri !== ref.uri || run !== ref.run);
          this.set({ runs: chosen ? [...others, ref] : others });
        },
        show: (run) => {
          const { fromS, toS, worstS } = this.summary.runs[run];
          this.show(fromS, toS, worstS ?? fromS);
        },
        align: (align, alignRpm) => this.set({ align, alignRpm }),
        addSession: () => {
          this.adding = true;
          this.host.send({ type: 'addSession', uris: [] });
        },
      }),
    );
  }

  private openSpell(spell: TraceSpell): void {
    this.show(spell.fromS, spell.toS, spell.fromS);
    this.host.send({ type: 'openPlace', line: spell.line, character: spell.character });
    this.tell(spell.message);
  }

  // Keys.

  private key(event: KeyboardEvent): void {
    if (
      event.target instanceof HTMLElement &&
      event.target !== this.frame.plots &&
      event.target.tagName === 'BUTTON' &&
      event.key === 'Enter'
    )
      return;
    const act = actOf(event);
    if (!act) return;
    event.preventDefault();
    this.do(act);
  }

  private do(act: Act, lane = this.state.lane): void {
    const { host, state, summary, cursor } = this;
    doAct(
      {
        host,
        state,
        summary,
        cursor,
        range: () => this.range,
        wholeRange: state.against === 'time' ? { from: summary.fromS, to: summary.toS } : this.numbers.wholeRuns,
        set: (change) => this.set(change),
        setRange: (next) => this.setRange(next),
        show: (fromS, toS, atS) => this.show(fromS, toS, atS),
        openSpell: (spell) => this.openSpell(spell),
        showHelp: () => this.frame.help.showModal(),
      },
      act,
      lane,
    );
  }
}
