// One trace view and the server: questions passed on, answers passed back, the text and the plot kept on the same row.

import {
  env,
  l10n,
  Selection,
  TextEditorRevealType,
  Uri,
  window,
  workspace,
  type Disposable,
  type Memento,
  type TextEditor,
  type Webview,
} from 'vscode';
import type { BaseLanguageClient } from 'vscode-languageclient';
import { fromBase64 } from '../../server/src/protocol/base64.js';
import {
  TRACE,
  type CsvResult,
  type RunsResult,
  type SpanResult,
  type TraceSample,
  type TraceSummary,
  type VisitsResult,
  type WindowResult,
} from '../../server/src/protocol/trace.js';
import {
  isFromTraceView,
  isKeptView,
  type FromTraceView,
  type KeptView,
  type ToTraceView,
} from '../../server/src/protocol/traceMessages.js';
import { TRACE_WORDS } from '../../server/src/protocol/traceWords.js';
import { openPlace } from './openPlace.js';
import { failureWords, localised, Newest, onChanged } from './talk.js';

const KEPT = 'trace.kept';
const SESSIONS = '**/*.{session.csv,candump.log}';
/** Larger files the editor keeps from extensions. */
const MOST_TEXT_BYTES = 50 << 20;
/** Pause in typing after which the plot is drawn anew, ms. */
const QUIET_MS = 500;
export class TraceTalk implements Disposable {
  private readonly subscriptions: Disposable[] = [];
  private ready = false;
  /** What is to be said when the view is there. */
  private waiting: ToTraceView[] = [];
  /**
   * The rows that the plot has put the text's cursor on, the newest last: not to be told back when the editor says so, late as it may be.
   */
  private placedLines: number[] = [];
  private others: readonly TraceSummary[] = [];
  private readonly session = new Newest<TraceSummary | null>({
    quietMs: QUIET_MS,
    ask: () => this.ask(TRACE.summary, {}),
    failed: (error) => this.post({ type: 'tell', message: failureWords(error) }),
    answered: (summary) => this.sendSession(summary),
  });
  /** Counts what is asked to be shown, by the text, by a table or in the plot: an answer that a later one has overtaken is not shown. */
  private placesAsked = 0;
  /** Messages heard of the view as it stands now. */
  private heard = 0;

  constructor(
    readonly uri: Uri,
    private readonly webview: Webview,
    private readonly memory: Memento,
    private readonly client: BaseLanguageClient,
  ) {
    const isMine = (other: Uri): boolean => other.toString() === uri.toString();
    this.subscriptions.push(
      webview.onDidReceiveMessage((message: unknown) => {
        if (isFromTraceView(message)) void this.hear(message);
      }),
      // Of no kind is what nobody did, such as where the editor puts the cursor of a text that it opens.
      window.onDidChangeTextEditorSelection(({ textEditor, selections, kind }) => {
        if (kind !== undefined && isMine(textEditor.document.uri)) void this.follow(selections[0]!.active.line);
      }),
      this.session,
      ...onChanged(uri, () => this.session.soon()),
    );
  }

  /** The plot's cursor goes to the sample of a line, where the line holds one. */
  async follow(line: number): Promise<void> {
    const placed = this.placedLines.indexOf(line);
    this.placedLines = placed < 0 ? [] : this.placedLines.slice(placed + 1);
    if (placed >= 0) return;
    const [asked, { heard }] = [++this.placesAsked, this];
    const sample = await this.ask<TraceSample>(TRACE.sample, { line }).catch(() => null);
    if (sample && asked === this.placesAsked) this.post({ type: 'follow', sample, heard });
  }

  async visits(asking: Promise<VisitsResult | null>): Promise<void> {
    const [asked, { heard }] = [++this.placesAsked, this];
    const found = await asking;
    if (found && asked === this.placesAsked)
      this.post({ type: 'visits', cell: found.cell, visits: found.visits, worstS: found.worstS ?? null, heard });
  }

  dispose(): void {
    for (const subscription of this.subscriptions) subscription.dispose();
  }

  private post(message: ToTraceView): void {
    // Of what a view that is not there yet should have heard, the newest of a kind is enough.
    if (this.ready || message.type === 'tell') void this.webview.postMessage(message);
    else this.waiting = [...this.waiting.filter(({ type }) => type !== message.type), message];
  }

  private ask<Result>(method: string, params: object): Promise<Result | null> {
    return this.client.sendRequest<Result | null>(method, { uri: this.uri.toString(), ...params });
  }

  private async sendSession(summary: TraceSummary | null): Promise<void> {
    if (!summary) {
      void this.webview.postMessage({
        type: 'tell',
        message: l10n.t('{0} does not read as a session with samples.', workspace.asRelativePath(this.uri)),
      } satisfies ToTraceView);
      return;
    }
    const kept: unknown = this.memory.get(KEPT);
    await this.webview.postMessage({
      type: 'session',
      summary,
      words: localised(TRACE_WORDS),
      kept: isKeptView(kept) ? (kept as KeptView) : null,
    } satisfies ToTraceView);
    if (this.others.length > 0) await this.webview.postMessage({ type: 'others', summaries: this.others } satisfies ToTraceView);
    if (!this.ready && (await this.isLarge()))
      this.post({
        type: 'tell',
        message: l10n.t(
          'This file is larger than 50 MB: the editor hands no text of it to extensions, so it is read from disk, and its text does not follow.',
        ),
      });
    this.ready = true;
    for (const message of this.waiting.splice(0)) this.post(message);
  }

  /** Too large for the editor to tell of its text. */
  private async isLarge(): Promise<boolean> {
    try {
      return (await workspace.fs.stat(this.uri)).size > MOST_TEXT_BYTES;
    } catch {
      return false;
    }
  }

  private async hear(message: FromTraceView): Promise<void> {
    this.heard = message.type === 'ready' ? 1 : this.heard + 1;
    if (message.type === 'openPlace' || message.type === 'openRow' || (message.type === 'cursor' && message.place)) this.placesAsked++;
    try {
      await this.answer(message);
    } catch (error) {
      const told = failureWords(error);
      this.post('ask' in message ? { type: 'failed', ask: message.ask, message: told } : { type: 'tell', message: told });
    }
  }

  private async answer(message: FromTraceView): Promise<void> {
    const gone = (ask: number): void => this.post({ type: 'failed', ask, message: '' });
    switch (message.type) {
      case 'ready':
        // A view that was hidden and shown again begins anew.
        this.ready = false;
        return this.session.now();
      case 'window': {
        const { ask, channels, fromS, toS, pixels } = message;
        const result = await this.ask<WindowResult<string>>(TRACE.window, { channels, fromS, toS, pixels });
        return result ? this.post({ type: 'window', ask, ...withBytes(result) }) : gone(ask);
      }
      case 'cursor': {
        const sample = await this.ask<TraceSample>(TRACE.sample, { timeS: message.timeS });
        if (!sample) return gone(message.ask);
        this.post({ type: 'sample', ask: message.ask, sample });
        if (message.place) this.placeInText(sample.line);
        return;
      }
      case 'span': {
        const span = await this.ask<SpanResult>(TRACE.span, { fromS: message.fromS, toS: message.toS });
        return span ? this.post({ type: 'span', ask: message.ask, span }) : gone(message.ask);
      }
      case 'runs': {
        const { ask, type, ...params } = message;
        const result = await this.ask<RunsResult<string>>(TRACE.runs, params);
        return result ? this.post({ type, ask, ...withBytes(result) }) : gone(ask);
      }
      case 'openRow': {
        const sample = await this.ask<TraceSample>(TRACE.sample, { timeS: message.timeS });
        return sample ? this.openText(sample.line, 0) : undefined;
      }
      case 'openPlace':
        return this.openText(message.line, message.character, true);
      case 'openCell': {
        const cell = (await this.ask<TraceSample>(TRACE.sample, { timeS: message.timeS }))?.cell;
        if (cell) await openPlace(Uri.parse(cell.uri), cell.line, cell.character, cell.endCharacter);
        return;
      }
      case 'addSession':
        return message.uris.length > 0 ? this.addSessions(message.uris) : this.addChosenSession();
      case 'copy': {
        const csv = await this.ask<CsvResult>(TRACE.csv, { channels: message.channels, fromS: message.fromS, toS: message.toS });
        if (!csv) return;
        await env.clipboard.writeText(csv.text);
        const words =
          csv.left > 0 ? l10n.t('{0} rows copied, {1} more left out.', csv.rows, csv.left) : l10n.t('{0} rows copied.', csv.rows);
        return this.post({ type: 'tell', message: words });
      }
      case 'savePicture': {
        const target = await window.showSaveDialog({
          defaultUri: this.uri.with({ path: picturePath(this.uri.path, message.kind) }),
          filters: { [message.kind.toUpperCase()]: [message.kind] },
        });
        if (!target) return;
        await workspace.fs.writeFile(target, message.bytes);
        this.post({ type: 'tell', message: l10n.t('{0} written.', workspace.asRelativePath(target)) });
        return;
      }
      case 'keep':
        return this.memory.update(KEPT, message.kept);
    }
  }

  private get editor(): TextEditor | undefined {
    return window.visibleTextEditors.find(({ document }) => document.uri.toString() === this.uri.toString());
  }

  /** In a text editor that is shown; the focus stays in the plot. */
  private placeInText(line: number, character = 0): void {
    const { editor } = this;
    if (!editor) return;
    this.placedLines.push(line);
    editor.selection = new Selection(line, character, line, character);
    editor.revealRange(editor.selection, TextEditorRevealType.InCenterIfOutsideViewport);
  }

  /** `quietly`: only where the text is shown already. */
  private async openText(line: number, character: number, quietly = false): Promise<void> {
    if (this.editor && quietly) return this.placeInText(line, character);
    this.placedLines.push(line);
    await openPlace(this.uri, line, character);
  }

  private async addChosenSession(): Promise<void> {
    const files = (await workspace.findFiles(SESSIONS, '**/node_modules/**', 500)).filter(
      (file) => file.toString() !== this.uri.toString(),
    );
    const chosen = await window.showQuickPick(
      files.map((file) => ({ label: workspace.asRelativePath(file), file })).sort((a, b) => a.label.localeCompare(b.label)),
      { title: l10n.t('Overlay the pulls of which session?') },
    );
    if (chosen) await this.addSessions([chosen.file.toString()]);
  }

  /** Those that are gone or are no sessions are left out. */
  private async addSessions(uris: readonly string[]): Promise<void> {
    for (const uri of uris) {
      if (this.others.some((other) => other.uri === uri)) continue;
      const summary = await this.client.sendRequest<TraceSummary | null>(TRACE.summary, { uri });
      if (summary && !this.others.some((other) => other.uri === summary.uri)) this.others = [...this.others, summary];
    }
    if (this.others.length > 0) this.post({ type: 'others', summaries: this.others });
  }
}

const withBytes = <T extends { readonly data: string }>(packed: T): Omit<T, 'data'> & { readonly data: Uint8Array } => ({
  ...packed,
  data: fromBase64(packed.data),
});

/** Beside the recording, under its name without what says its kind: never the recording itself. */
const picturePath = (path: string, kind: string): string => `${path.replace(/(?:\.session|\.candump)?\.[^./]+$/i, '')}.${kind}`;
