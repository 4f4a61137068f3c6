// One table's picture and the server: asked anew as the text is typed, the text's selection and the picture's kept the same.

import {
  commands,
  l10n,
  Selection,
  TextEditorRevealType,
  window,
  workspace,
  type Disposable,
  type Event,
  type TextEditor,
  type Uri,
  type Webview,
} from 'vscode';
import type { BaseLanguageClient } from 'vscode-languageclient';
import { COMMANDS, type CorrectParams, type PlaceRange, type StatusParams } from '../../server/src/protocol/messages.js';
import { TABLE, type PathResult, type TablePicture } from '../../server/src/protocol/table.js';
import { isFromTableView, type FromTableView, type TextSpan, type ToTableView } from '../../server/src/protocol/tableMessages.js';
import { TABLE_WORDS } from '../../server/src/protocol/tableWords.js';
import { TRACE, type TraceSummary } from '../../server/src/protocol/trace.js';
import { openPlace } from './openPlace.js';
import { failureWords, localised, Newest, onChanged } from './talk.js';

/** Pause in typing after which the picture is asked for anew, ms: short, so that it follows. */
const QUIET_MS = 40;

export class TableTalk implements Disposable {
  private readonly subscriptions: Disposable[] = [];
  private readonly picture = new Newest<TablePicture | null>({
    quietMs: QUIET_MS,
    ask: () => this.ask(TABLE.picture, { duty: this.duty }),
    failed: (error) => this.post({ type: 'tell', message: failureWords(error) }),
    answered: (picture) =>
      this.post(
        picture
          ? { type: 'picture', picture, words: localised(TABLE_WORDS) }
          : { type: 'tell', message: l10n.t('{0} does not read as a table.', workspace.asRelativePath(this.uri)) },
      ),
  });
  /** Injector duty is shown: it is asked for only then. */
  private duty = false;
  /** Selections that the picture has made in the text: not to be told back. */
  private made: string[] = [];

  constructor(
    readonly uri: Uri,
    private readonly webview: Webview,
    private readonly client: BaseLanguageClient,
    onStatus: Event<StatusParams>,
  ) {
    const isMine = (other: Uri): boolean => other.toString() === uri.toString();
    this.subscriptions.push(
      webview.onDidReceiveMessage((message: unknown) => {
        if (isFromTableView(message)) void this.hear(message);
      }),
      window.onDidChangeTextEditorSelection(({ textEditor, selections }) => {
        if (isMine(textEditor.document.uri)) this.selected(selections);
      }),
      // What the sessions say may be known by now.
      onStatus(({ state }) => {
        if (state === 'ready') this.picture.soon();
      }),
      this.picture,
      ...onChanged(uri, () => this.picture.soon()),
    );
  }

  dispose(): void {
    for (const subscription of this.subscriptions) subscription.dispose();
  }

  private post(message: ToTableView): void {
    void this.webview.postMessage(message);
  }

  private ask<Result>(method: string, params: object): Promise<Result | null> {
    return this.client.sendRequest<Result | null>(method, { uri: this.uri.toString(), ...params });
  }

  private async hear(message: FromTableView): Promise<void> {
    try {
      await this.answer(message);
    } catch (error) {
      const told = failureWords(error);
      this.post('ask' in message ? { type: 'failed', ask: message.ask, message: told } : { type: 'tell', message: told });
    }
  }

  private async answer(message: FromTableView): Promise<void> {
    switch (message.type) {
      case 'ready': {
        this.duty = message.duty;
        await this.picture.now();
        if (this.editor) this.post({ type: 'selected', spans: this.editor.selections.map(spanOf) });
        return;
      }
      case 'duty': {
        this.duty = true;
        return this.picture.now();
      }
      case 'select':
        return this.select(message.spans, message.open);
      case 'runs': {
        const summary = await this.client.sendRequest<TraceSummary | null>(TRACE.summary, { uri: message.session });
        const runs = (summary?.runs ?? []).map(({ pull, direction, fromS, fromRpm, toRpm }, run) => ({
          run,
          pull,
          direction,
          fromS,
          words: `${Math.round(fromRpm)}–${Math.round(toRpm)} rpm`,
        }));
        return this.post({ type: 'runs', ask: message.ask, runs });
      }
      case 'path': {
        const { ask, session, run } = message;
        const path = await this.ask<PathResult>(TABLE.path, { session, run });
        return this.post(path ? { type: 'path', ask, path } : { type: 'failed', ask, message: localised(TABLE_WORDS).noWay });
      }
      case 'moments': {
        await commands.executeCommand('leanspot.showCellInTrace', {
          uri: this.uri.toString(),
          line: message.line,
          character: message.character,
        });
        return;
      }
      case 'correct': {
        const params: CorrectParams = {
          uri: this.uri.toString(),
          ...(message.spans ? { kind: 'cells', ranges: message.spans.map(rangeOf) } : { kind: 'all' }),
        };
        await commands.executeCommand(COMMANDS.correctTable, params);
      }
    }
  }

  private get editor(): TextEditor | undefined {
    return window.visibleTextEditors.find(({ document }) => document.uri.toString() === this.uri.toString());
  }

  /** The text's selections go to the picture, but those that came from it. */
  private selected(selections: readonly Selection[]): void {
    const name = nameOf(selections);
    const at = this.made.indexOf(name);
    // Those before it were overtaken within the editor.
    if (at >= 0) this.made.splice(0, at + 1);
    else this.post({ type: 'selected', spans: selections.map(spanOf) });
  }

  private async select(spans: readonly TextSpan[], open: boolean): Promise<void> {
    const first = spans[0];
    if (!first) return;
    if (open) await openPlace(this.uri, first.startLine, first.startCharacter, first.endCharacter);
    const { editor } = this;
    if (!editor) return;
    const selections = spans.map(
      ({ startLine, startCharacter, endLine, endCharacter }) => new Selection(startLine, startCharacter, endLine, endCharacter),
    );
    if (nameOf(selections) === nameOf(editor.selections)) return;
    this.made = [...this.made.slice(-20), nameOf(selections)];
    editor.selections = selections;
    editor.revealRange(selections[0]!, TextEditorRevealType.InCenterIfOutsideViewport);
  }
}

const spanOf = ({ start, end }: Selection): TextSpan => ({
  startLine: start.line,
  startCharacter: start.character,
  endLine: end.line,
  endCharacter: end.character,
});
const nameOf = (selections: readonly Selection[]): string =>
  selections.map(({ start, end }) => `${start.line}:${start.character}-${end.line}:${end.character}`).join(' ');
const rangeOf = ({ startLine, startCharacter, endLine, endCharacter }: TextSpan): PlaceRange => ({
  start: { line: startLine, character: startCharacter },
  end: { line: endLine, character: endCharacter },
});
