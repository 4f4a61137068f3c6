// One handler for each editor feature: settings looked at, the service asked, its answer put in the protocol's shape.

import {
  CodeActionKind,
  CodeActionTriggerKind,
  type CancellationToken,
  type ClientCapabilities,
  type CodeAction,
  type CodeActionParams,
  type Connection,
  type DocumentFormattingParams,
  type InlayHintParams,
  type Location,
  type LocationLink,
  type RenameFilesParams,
  type SelectionRangeParams,
  type TextDocumentPositionParams,
  type TextEdit,
  type WorkspaceEdit,
  type WorkspaceSymbolParams,
} from 'vscode-languageserver';
import { range } from '../formats/range.js';
import { CORRECTION, REVIEW, type CorrectParams, type ReviewAnswer, type ReviewParams } from '../protocol/messages.js';
import type { LanguageService } from '../service/languageService.js';
import { breathe, type Answerer } from './answer.js';
import { codeActionOf, hoverOf, takesNewFiles } from './convert.js';
import type { Progress } from '../service/workspace.js';
import { normalUri, type EditorWorkspace } from './editorWorkspace.js';
import { serveSemanticTokens } from './semanticTokens.js';
import type { ReadersNumbers } from './readersNumbers.js';
import type { SettingsOf } from './settings.js';

interface Parts {
  readonly connection: Connection;
  readonly service: LanguageService;
  readonly workspace: EditorWorkspace;
  readonly settingsOf: SettingsOf;
  readonly answer: Answerer;
  readonly capabilities: ClientCapabilities;
  /** The editor completes and explains vehicle.json from the schema by itself. */
  readonly schemaKnown: boolean;
  /** The client has the commands that call-outs name. */
  readonly commands: boolean;
  readonly readers: ReadersNumbers;
}

/** Long work that lets other messages in between its pieces, and ends when nobody wants it any more. */
export const breathing = (token: CancellationToken): Progress => ({
  get cancelled() {
    return token.isCancellationRequested;
  },
  report: breathe,
});

const HEAD = range(0, 0, 0, 0);

const fileOf = ({ textDocument }: { readonly textDocument: { readonly uri: string } }): string => textDocument.uri;

export function serveFeatures({
  connection,
  service,
  workspace,
  settingsOf,
  answer,
  capabilities,
  schemaKnown,
  commands,
  readers,
}: Parts): void {
  connection.onHover(
    answer(
      'Hover',
      fileOf,
      async ({ textDocument: { uri }, position }: TextDocumentPositionParams) => {
        if (!(await settingsOf(uri)).hover.enable) return null;
        const card = await service.hover(uri, position, schemaKnown);
        return card ? hoverOf(readers.card(card), capabilities) : null;
      },
      null,
    ),
  );

  connection.onDocumentSymbol(
    answer('Outline', fileOf, async ({ textDocument }) => (await service.documentSymbols(textDocument.uri)).map(readers.symbol), []),
  );
  connection.onFoldingRanges(answer('Folding', fileOf, async ({ textDocument }) => service.foldingRanges(textDocument.uri), []));
  connection.onCompletion(
    answer(
      'Completion',
      fileOf,
      async ({ textDocument, position }: TextDocumentPositionParams) => service.completions(textDocument.uri, position, schemaKnown),
      [],
    ),
  );
  connection.onDocumentLinks(answer('Links', fileOf, async ({ textDocument }) => service.documentLinks(textDocument.uri), []));
  connection.onSelectionRanges(
    answer(
      'Selection',
      fileOf,
      async ({ textDocument, positions }: SelectionRangeParams) => service.selectionRanges(textDocument.uri, positions),
      [],
    ),
  );
  connection.onDocumentHighlight(
    answer(
      'Highlights',
      fileOf,
      async ({ textDocument, position }: TextDocumentPositionParams) => service.documentHighlights(textDocument.uri, position),
      [],
    ),
  );
  connection.onCodeLens(
    answer(
      'Call-outs',
      fileOf,
      async ({ textDocument: { uri } }) => {
        const {
          codeLens: { enable },
          correct: { maxChangePercent },
        } = await settingsOf(uri);
        return enable ? (await service.codeLenses(uri, { commands, maxChangePercent })).map(readers.lens) : [];
      },
      [],
    ),
  );

  connection.onDocumentFormatting(
    answer(
      'Aligning',
      fileOf,
      async ({ textDocument }: DocumentFormattingParams): Promise<TextEdit[]> => service.format(textDocument.uri),
      [],
    ),
  );
  connection.onWorkspaceSymbol(
    answer(
      'Symbols',
      () => undefined,
      async ({ query }: WorkspaceSymbolParams) => service.workspaceSymbols(query),
      [],
    ),
  );
  connection.workspace.onWillRenameFiles(
    answer(
      'Renaming',
      () => undefined,
      async ({ files }: RenameFilesParams): Promise<WorkspaceEdit | null> => {
        const found = await service.renameEdits(
          files.map(({ oldUri, newUri }) => ({ oldUri: normalUri(oldUri), newUri: normalUri(newUri) })),
        );
        return found.length > 0 ? { changes: Object.fromEntries(found.map(({ uri, edits }) => [uri, [...edits]])) } : null;
      },
      null,
    ),
  );
  serveSemanticTokens({ connection, service, answer });

  const links = capabilities.textDocument?.definition?.linkSupport === true;
  connection.onDefinition(
    answer(
      'Definition',
      fileOf,
      async ({ textDocument, position }: TextDocumentPositionParams): Promise<LocationLink[] | Location[]> => {
        const found = await service.definition(textDocument.uri, position);
        return links ? found : found.map(({ targetUri, targetSelectionRange }) => ({ uri: targetUri, range: targetSelectionRange }));
      },
      [],
    ),
  );
  connection.onReferences(
    answer(
      'References',
      fileOf,
      async ({ textDocument, position }: TextDocumentPositionParams, token) =>
        service.references(textDocument.uri, position, breathing(token)),
      [],
    ),
  );
  connection.languages.inlayHint.on(
    answer(
      'Hints',
      fileOf,
      async ({ textDocument: { uri }, range }: InlayHintParams) =>
        (await settingsOf(uri)).inlayHints.enable ? (await service.inlayHints(uri, range)).map(readers.hint) : [],
      [],
    ),
  );

  const version = (uri: string): number | null => workspace.document(uri)?.version ?? null;
  connection.onCodeAction(
    answer(
      'Corrections',
      fileOf,
      async ({ textDocument: { uri }, range, context }: CodeActionParams, token): Promise<CodeAction[]> => {
        const wanted = context.only?.some((kind) => kind === CodeActionKind.Empty || CodeActionKind.QuickFix.startsWith(kind)) ?? true;
        if (!wanted || !takesNewFiles(capabilities)) return [];
        // A light bulb is no reason to weigh every session at once; it comes when the background has done so.
        if (context.triggerKind === CodeActionTriggerKind.Automatic && !(await service.weigher.evidenceSoFar(uri))) return [];
        const {
          correct: { maxChangePercent },
        } = await settingsOf(uri);
        const actions = await service.codeActions(uri, [range], maxChangePercent, breathing(token));
        return actions.map((action) =>
          codeActionOf(action, {
            diagnostics: context.diagnostics,
            version,
            capabilities,
            ...(commands ? { asCommand: { uri, ranges: [range] } } : {}),
          }),
        );
      },
      [],
    ),
  );

  connection.onRequest(
    CORRECTION,
    answer(
      'Correction',
      ({ uri }: CorrectParams) => uri,
      async ({ uri, kind, ranges = [HEAD] }: CorrectParams, token): Promise<CodeAction | null> => {
        if (!takesNewFiles(capabilities)) return null;
        const {
          correct: { maxChangePercent },
        } = await settingsOf(uri);
        const action = (await service.codeActions(uri, ranges, maxChangePercent, breathing(token))).find((each) => each.kind === kind);
        return action ? codeActionOf(action, { diagnostics: [], version, capabilities }) : null;
      },
      null,
    ),
  );

  connection.onRequest(
    REVIEW,
    answer(
      'Review',
      ({ uri }: ReviewParams) => uri,
      async ({ uri, oldName, oldText }: ReviewParams, token): Promise<ReviewAnswer> =>
        (await service.review(uri, oldName, oldText, breathing(token))) ?? null,
      null,
    ),
  );
}
