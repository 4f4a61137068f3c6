// What the tests inside the editor share: opening files of the copied workspace, finding places in them, waiting for findings.
import * as vscode from 'vscode';
import { join } from 'node:path';
import { benchCarName, sampleName } from '../benchCar.js';

/**
 * Long, because a small machine checks every car while the tests run; shorter than mocha's limit, so that what was there instead is told.
 */
const waitLimitMs = 45_000;

export const workspaceFolder = () => vscode.workspace.workspaceFolders![0]!.uri.fsPath;

/** A file of the sample car. */
export const sampleFile = (path: string) => vscode.Uri.file(join(workspaceFolder(), sampleName, 'bramble-coupe', path));

/** A file of the bench car. */
export const benchCarFile = (path: string) => vscode.Uri.file(join(workspaceFolder(), benchCarName, path));

/** Opens a file as a person does, in an editor that is shown. */
export async function show(uri: vscode.Uri): Promise<vscode.TextDocument> {
  return (await vscode.window.showTextDocument(uri, { preview: false })).document;
}

/** Closes all editors; what was typed and not saved is gone. */
export async function closeAll(): Promise<void> {
  for (const document of vscode.workspace.textDocuments.filter(({ isDirty }) => isDirty)) {
    await vscode.window.showTextDocument(document);
    await vscode.commands.executeCommand('workbench.action.files.revert');
  }
  await vscode.commands.executeCommand('workbench.action.closeAllEditors');
}

/** Where `text` stands in a document, from `line` on. */
export function placeOf(document: vscode.TextDocument, text: string, line = 0): vscode.Range {
  const offset = document.getText().indexOf(text, document.offsetAt(new vscode.Position(line, 0)));
  if (offset < 0) throw new Error(`${document.fileName} has no ${text}`);
  return new vscode.Range(document.positionAt(offset), document.positionAt(offset + text.length));
}

/** Types `text` over a range, without saving. */
export async function type(document: vscode.TextDocument, range: vscode.Range, text: string): Promise<void> {
  const edit = new vscode.WorkspaceEdit();
  edit.replace(document.uri, range, text);
  await vscode.workspace.applyEdit(edit);
}

export interface Told {
  code: string;
  severity: keyof typeof vscode.DiagnosticSeverity;
  range: vscode.Range;
  message: string;
  page: vscode.Uri | undefined;
}

/** Our findings on a file, by what a person sees of them. Other extensions' are left out. */
export function told(uri: vscode.Uri): Told[] {
  return vscode.languages
    .getDiagnostics(uri)
    .filter(({ source }) => source?.toLowerCase() === 'leanspot')
    .map(({ code, severity, range, message }) => ({
      code: String(typeof code === 'object' ? code.value : code),
      severity: vscode.DiagnosticSeverity[severity] as Told['severity'],
      range,
      message,
      page: typeof code === 'object' ? code.target : undefined,
    }));
}

/** What anybody tells of a file, ours and the editor's own: who, and where. */
export const toldByAnybody = (
  uri: vscode.Uri,
): { source: string | undefined; message: string; range: vscode.Range; severity: vscode.DiagnosticSeverity }[] =>
  vscode.languages.getDiagnostics(uri).map(({ source, message, range, severity }) => ({ source, message, range, severity }));

/** Waits until the findings on a file are as expected. Rejects with what there is instead. */
export async function toldWhen(uri: vscode.Uri, holds: (findings: Told[]) => boolean): Promise<Told[]> {
  if (holds(told(uri))) return told(uri);
  return new Promise((resolve, reject) => {
    const watch = vscode.languages.onDidChangeDiagnostics(() => {
      if (holds(told(uri))) end(() => resolve(told(uri)));
    });
    const timer = setTimeout(() => end(() => reject(new Error(`told on ${uri.path}: ${listed(told(uri))}`))), waitLimitMs);
    const end = (settle: () => void) => {
      watch.dispose();
      clearTimeout(timer);
      settle();
    };
  });
}

const listed = (findings: Told[]) =>
  findings.map(({ code, range }) => `${code} at ${range.start.line}:${range.start.character}`).join(', ') || 'nothing';

/** Of what the extension gives to others, what is used here. */
interface Api {
  readonly onStatus: vscode.Event<unknown>;
}

export const extension = (): vscode.Extension<Api> => vscode.extensions.getExtension<Api>('leanspot.leanspot')!;

/**
 * Asks until the answer is as expected: again whenever the server says what it does, or findings, texts or settings change. Rejects with
 * the last answer.
 */
export async function answerWhen<T>(ask: () => Thenable<T>, holds: (answer: T) => boolean): Promise<T> {
  const { onStatus } = await extension().activate();
  let wake = (): void => undefined;
  let changed: boolean,
    isLate = false;
  const hear = (): void => {
    changed = true;
    wake();
  };
  const watches = [
    onStatus,
    vscode.languages.onDidChangeDiagnostics,
    vscode.workspace.onDidChangeTextDocument,
    vscode.workspace.onDidChangeConfiguration,
  ].map((event) => (event as vscode.Event<unknown>)(hear));
  const timer = setTimeout(() => {
    isLate = true;
    wake();
  }, waitLimitMs);
  try {
    for (;;) {
      changed = false;
      const answer = await ask();
      if (holds(answer)) return answer;
      if (!changed && !isLate)
        await new Promise<void>((resolve) => {
          wake = resolve;
        });
      if (isLate) throw new Error(`still answers ${JSON.stringify(answer)?.slice(0, 2000)}`);
    }
  } finally {
    clearTimeout(timer);
    for (const watch of watches) watch.dispose();
  }
}

export const hovers = (uri: vscode.Uri, position: vscode.Position) =>
  vscode.commands.executeCommand<vscode.Hover[]>('vscode.executeHoverProvider', uri, position);

/** All that the hovers say, as one text. */
export function words(hovers: vscode.Hover[]): string {
  return hovers
    .flatMap(({ contents }) => contents)
    .map((part) => (typeof part === 'string' ? part : part.value))
    .join('\n');
}
