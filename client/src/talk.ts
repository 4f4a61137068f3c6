// What every view's talk with the server shares: when to ask anew, its words in the editor's language, and failures in a line.

import { l10n, RelativePattern, Uri, workspace, type Disposable } from 'vscode';

/** The protocol's codes for a question that an edit or a newer question has overtaken: the next answer makes up for it. */
const OVERTAKEN: ReadonlySet<number> = new Set([-32800, -32801, -32802]);

export const isOvertaken = (error: unknown): boolean => OVERTAKEN.has((error as { code?: number }).code ?? 0);

/** Empty where a later answer makes up for it. */
export const failureWords = (error: unknown): string =>
  isOvertaken(error) ? '' : l10n.t('The server did not answer: {0}', error instanceof Error ? error.message : String(error));

/** Told of every change of a file, typed or on disk. */
export function onChanged(uri: Uri, changed: () => void): Disposable[] {
  const watcher = workspace.createFileSystemWatcher(
    new RelativePattern(Uri.joinPath(uri, '..'), uri.path.slice(uri.path.lastIndexOf('/') + 1)),
  );
  return [
    workspace.onDidChangeTextDocument(({ document, contentChanges }) => {
      if (document.uri.toString() === uri.toString() && contentChanges.length > 0) changed();
    }),
    watcher,
    watcher.onDidChange(changed),
  ];
}

export interface Asking<Answer> {
  ask(): Promise<Answer>;
  /** Only of the newest question. */
  answered(answer: Answer): Promise<void> | void;
  failed(error: unknown): void;
  /** Pause after a change before it is asked anew, ms. */
  readonly quietMs: number;
}

/** A question that is asked again and again: the newest answer counts, and one that an edit has overtaken is asked for again. */
export class Newest<Answer> implements Disposable {
  private asked = 0;
  private timer: ReturnType<typeof setTimeout> | undefined;

  constructor(private readonly asking: Asking<Answer>) {}

  async now(): Promise<void> {
    const asked = ++this.asked;
    let answer: Answer;
    try {
      answer = await this.asking.ask();
    } catch (error) {
      if (asked !== this.asked) return;
      if (!isOvertaken(error)) throw error;
      return this.soon();
    }
    if (asked === this.asked) await this.asking.answered(answer);
  }

  soon(): void {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.now().catch((error: unknown) => this.asking.failed(error)), this.asking.quietMs);
  }

  dispose(): void {
    clearTimeout(this.timer);
  }
}

/** A view's words in the editor's language. */
export const localised = <Words extends Readonly<Record<string, string>>>(english: Words): { readonly [Key in keyof Words]: string } =>
  Object.fromEntries(Object.entries(english).map(([key, text]) => [key, l10n.t(text)])) as { [Key in keyof Words]: string };
