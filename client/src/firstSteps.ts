// The first steps that the walkthrough leads through: each takes its example from what was found in the open folder.

import {
  commands,
  DiagnosticSeverity,
  l10n,
  languages,
  ProgressLocation,
  Range,
  ViewColumn,
  window,
  type Diagnostic,
  type Disposable,
  type Uri,
} from 'vscode';
import type { CorrectParams } from '../../server/src/protocol/messages.js';
import { COMMANDS } from '../../server/src/protocol/messages.js';

const WALKTHROUGH = 'leanspot.leanspot#firstSteps';
/** For a folder that was just opened: it is being read, ms. */
const LONGEST_WAIT_MS = 20_000;

export type Step = 'sample' | 'finding' | 'reading' | 'trace' | 'cell' | 'correction' | 'report';
interface Place {
  readonly uri: Uri;
  readonly range: Range;
}

/**
 * Ticks a step off, wherever it was done from. The walkthrough hears of it by a context key, for of commands that the extension runs itself
 * it hears nothing.
 */
export const done = (step: Step): void => {
  void commands.executeCommand('setContext', `leanspot.done.${step}`, true);
};

export const openFirstSteps = (): Thenable<void> => commands.executeCommand('workbench.action.openWalkthrough', WALKTHROUGH, false);

export function registerFirstSteps(): Disposable {
  return commands.registerCommand('leanspot.firstStep', async (step: unknown) => {
    const place = await window.withProgress({ location: ProgressLocation.Window, title: l10n.t('Looking for an example') }, () =>
      foundSoon(step === 'cell' || step === 'correction' ? 'cell-lean' : 'lean-under-load'),
    );
    if (!place) {
      const copy = l10n.t('Copy the Sample Car…');
      if (
        (await window.showInformationMessage(
          l10n.t('Nothing lean was found in the open folder. The sample car has a lean spot to show.'),
          copy,
        )) === copy
      )
        await commands.executeCommand('leanspot.copySample');
      return;
    }
    await show(step as Step, place);
  });
}

async function show(step: Step, { uri, range }: Place): Promise<void> {
  // The list of findings, and else the room that it takes.
  await commands.executeCommand(step === 'finding' ? 'workbench.actions.view.problems' : 'workbench.action.closePanel');
  switch (step) {
    case 'finding': {
      await showText(uri, range);
      return done('finding');
    }
    case 'reading':
    case 'cell': {
      await showText(uri, range);
      await commands.executeCommand('editor.action.showHover', { focus: 'noAutoFocus' });
      return;
    }
    case 'trace': {
      await showText(uri, range, ViewColumn.One);
      await commands.executeCommand('leanspot.openTrace', uri, range.start.line);
      return;
    }
    case 'correction': {
      await showText(uri, range);
      await commands.executeCommand(COMMANDS.correctTable, { uri: uri.toString(), kind: 'all' } satisfies CorrectParams);
      return;
    }
    case 'report':
      await commands.executeCommand('leanspot.saveReport', uri);
      return;
    case 'sample':
      return;
  }
}

/** Beside the walkthrough, which stays in sight. */
const showText = (uri: Uri, range: Range, viewColumn = ViewColumn.Two): Thenable<unknown> =>
  window.showTextDocument(uri, { selection: new Range(range.start, range.start), viewColumn });

/** The worst finding of a kind; waited for while the folder is being read. */
async function foundSoon(code: string): Promise<Place | undefined> {
  const now = worst(code);
  if (now) return now;
  return new Promise((resolve) => {
    const end = (): void => {
      clearTimeout(timer);
      heard.dispose();
      resolve(worst(code));
    };
    const timer = setTimeout(end, LONGEST_WAIT_MS);
    const heard = languages.onDidChangeDiagnostics(() => {
      if (worst(code)) end();
    });
  });
}

const codeOf = ({ code }: Diagnostic): unknown => (typeof code === 'object' ? code.value : code);

/** Of the most severe the first, in the order of the files' names. */
function worst(code: string): Place | undefined {
  const found = languages
    .getDiagnostics()
    .flatMap(([uri, all]) =>
      all
        .filter((each) => each.source?.toLowerCase() === 'leanspot' && codeOf(each) === code && each.severity <= DiagnosticSeverity.Warning)
        .map(({ severity, range }) => ({ uri, range, severity })),
    );
  return found.sort(
    (a, b) =>
      a.severity - b.severity || (a.uri.path < b.uri.path ? -1 : a.uri.path > b.uri.path ? 1 : a.range.start.line - b.range.start.line),
  )[0];
}
