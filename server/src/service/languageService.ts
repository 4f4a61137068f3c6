// The whole API of the service: what may be asked about a file. Each editor feature has a file of its own beside this one.

import type {
  CodeLens,
  CompletionItem,
  DocumentHighlight,
  DocumentLink,
  DocumentSymbol,
  FoldingRange,
  InlayHint,
  Location,
  LocationLink,
  SelectionRange,
  WorkspaceSymbol,
} from 'vscode-languageserver-types';
import { STANDARD_BAROMETER_KPA } from '../quantities/convert.js';
import type { Position, Range } from '../formats/range.js';
import type { TextEdit } from '../formats/table/table.js';
import { readTable } from '../formats/table/readTable.js';
import type { Signals } from '../signals/signals.js';
import type { Card } from './editor/card.js';
import { tableActions, type TableAction } from './editor/codeActions.js';
import { asWanted, sessionLenses, tableLenses, type LensOptions } from './editor/codeLens.js';
import { sessionDefinition } from './editor/definition.js';
import { documentHighlights } from './editor/documentHighlights.js';
import { sessionSymbols, tableSymbols } from './editor/documentSymbols.js';
import { delaysOf } from './delays.js';
import type { Documents } from './documents.js';
import type { FileKind } from './fileKind.js';
import { fuelQuestion, fuelTable } from './fuelOf.js';
import { createFileService, type FileService, type FileServiceOptions } from './fileService.js';
import { renameEdits, type FileEdits, type FileRename } from './editor/fileRenames.js';
import { noteFolding, sessionFolding } from './editor/foldingRanges.js';
import { alignTable } from './editor/formatting.js';
import { tableInlayHints } from './editor/inlayHints.js';
import { tableReferences } from './editor/references.js';
import { selectionRanges } from './editor/selectionRanges.js';
import { sessionTokens, tableTokens, type Token } from './editor/semanticTokens.js';
import { reviewTable } from './reviewTable.js';
import { reviewMarkdown } from './reviewWords.js';
import { createSessionViews } from './views/sessionViews.js';
import { sessionHover, type FuelledBy } from './editor/sessionHover.js';
import { tableHover } from './editor/tableHover.js';
import { createTablePicture, type TablePictureService } from './views/tablePicture.js';
import { createTrace, type TraceService } from './views/trace.js';
import { weighedSessionsOf, type VehicleFolder } from './vehicleFolders.js';
import { vehicleCompletions } from './editor/vehicleCompletion.js';
import { vehicleHover } from './editor/vehicleHover.js';
import { vehicleLinks } from './editor/vehicleLinks.js';
import { createVehicleOverview, type VehicleOverview } from './views/vehicleOverview.js';
import type { Progress, Workspace } from './workspace.js';
import { workspaceSymbols } from './editor/workspaceSymbols.js';

export type { FileCheck, SessionSummary } from './check.js';
export type { FileKind } from './fileKind.js';
export type { VehicleFolder } from './vehicleFolders.js';

/**
 * Every answer is empty or undefined for a file that is none of ours. Nothing throws for what a file holds; only a file that can't be read
 * does.
 */
export interface LanguageService extends FileService {
  /** The session as a picture. */
  readonly trace: TraceService;
  /** The vehicles as a tree. */
  readonly overview: VehicleOverview;
  /** A table as a picture. */
  readonly tablePicture: TablePictureService;
  /** A vehicle's sessions that are evidence. */
  weighedSessions(folder: VehicleFolder): Promise<readonly string[]>;
  /** `schemaKnown`: the editor explains a vehicle file's keys from the schema by itself. */
  hover(uri: string, position: Position, schemaKnown?: boolean): Promise<Card | undefined>;
  documentSymbols(uri: string): Promise<DocumentSymbol[]>;
  foldingRanges(uri: string): Promise<FoldingRange[]>;
  selectionRanges(uri: string, positions: readonly Position[]): Promise<SelectionRange[]>;
  documentHighlights(uri: string, position: Position): Promise<DocumentHighlight[]>;
  /** In a vehicle file. `schemaKnown`: the editor completes keys and values from the schema by itself. */
  completions(uri: string, position: Position, schemaKnown?: boolean): Promise<CompletionItem[]>;
  documentLinks(uri: string): Promise<DocumentLink[]>;
  /** A line above each pull with its worst moment, and above each table with what the sessions say. */
  codeLenses(uri: string, options?: LensOptions): Promise<CodeLens[]>;
  /** From a session's row to the cell of the fuel table that fuelled it. */
  definition(uri: string, position: Position): Promise<LocationLink[]>;
  /** From a table's cell to the rows that are evidence on it, the most telling first. */
  references(uri: string, position: Position, progress?: Progress): Promise<Location[]>;
  /** Corrections of a table that its evidence proves, for the selected cells and for all. */
  codeActions(uri: string, selected: readonly Range[], maxChangePercent: number, progress?: Progress): Promise<TableAction[]>;
  /** What changed in a table since an earlier state of it, as Markdown, or why they cannot be compared. */
  review(
    uri: string,
    oldName: string,
    oldText: string,
    progress?: Progress,
  ): Promise<{ readonly markdown: string } | { readonly refused: string } | undefined>;
  /** The proven factor beside each cell that lies in the range. */
  inlayHints(uri: string, visible: Range): Promise<InlayHint[]>;
  /** A table's columns put under each other; nothing but blanks moves. */
  format(uri: string): Promise<TextEdit[]>;
  /** Channels, units, breakpoints, and readings not to be believed, on these lines. */
  semanticTokens(uri: string, lines?: { readonly first: number; readonly last: number }): Promise<Token[]>;
  /** Cars, sessions and tables of the open folders by name. */
  workspaceSymbols(query: string): Promise<WorkspaceSymbol[]>;
  /** The paths that follow when files or folders get other names. */
  renameEdits(renames: readonly FileRename[]): Promise<FileEdits[]>;
}

export interface ServiceOptions extends FileServiceOptions {
  /** Sessions are weighed by whoever schedules it; hovers, hints and call-outs answer from what has been weighed so far. */
  readonly inBackground?: boolean;
}

export function createLanguageService(workspace: Workspace, options: ServiceOptions = {}): LanguageService {
  const files = createFileService(workspace, options),
    { documents, weigher } = files;
  const evidenceNow = options.inBackground ? weigher.evidenceSoFar : weigher.evidence;

  const fuelTableOf = fuelTable(documents, weigher),
    fuelOf = fuelQuestion(documents, weigher);

  /** The fuel table that a session's readings speak of, with how late they are. */
  const fuelledBy = async (sessionUri: string, signals: Signals): Promise<(FuelledBy & { readonly uri: string }) | undefined> => {
    const fuel = await fuelTableOf(sessionUri);
    return fuel && { ...fuel, delays: delaysOf(signals, await weigher.delaySoFar(sessionUri)) };
  };

  const elsewhere = createSessionViews(workspace, documents, files.checkSoFar, fuelOf);

  /** Answers by the kind of file; `otherwise` for a file that is none of ours, or of a kind without an answer. */
  const byKind = async <T>(uri: string, answers: Partial<Record<FileKind, () => Promise<T | undefined>>>, otherwise: T): Promise<T> => {
    const kind = (await documents.kindOf(uri))?.kind;
    return (kind && (await answers[kind]?.())) ?? otherwise;
  };
  const ofSession = async <T>(
    uri: string,
    answer: (signals: NonNullable<Awaited<ReturnType<Documents['signals']>>>['value']) => T | Promise<T>,
  ): Promise<T | undefined> => {
    const read = await documents.signals(uri);
    return read && answer(read.value);
  };
  const ofTable = async <T>(
    uri: string,
    answer: (table: NonNullable<Awaited<ReturnType<Documents['table']>>>['value']) => T | Promise<T>,
  ): Promise<T | undefined> => {
    const read = await documents.table(uri);
    return read && answer(read.value);
  };

  return {
    ...files,
    trace: createTrace({ documents, weigher, check: files.check, fuelOf }),
    overview: createVehicleOverview(workspace, documents, weigher),
    tablePicture: createTablePicture(workspace, documents, weigher, evidenceNow, fuelOf),
    weighedSessions: (folder) => weighedSessionsOf(workspace, folder),

    hover: (uri, position, schemaKnown = false) =>
      byKind<Card | undefined>(
        uri,
        {
          session: async () => {
            const asked = await elsewhere.ask(uri, 'hover', position);
            return asked ? asked.card : ofSession(uri, async (signals) => sessionHover(signals, position, await fuelledBy(uri, signals)));
          },
          table: () =>
            ofTable(uri, async (table) => {
              const vehicle = (await documents.vehicleFolder(uri))?.document.vehicle;
              const evidence = await evidenceNow(uri);
              const card = tableHover(table, position, evidence?.value, vehicle, STANDARD_BAROMETER_KPA);
              return card && !evidence && (await weigher.isWeighed(uri))
                ? { ...card, notes: [...card.notes, 'The sessions are being weighed.'] }
                : card;
            }),
          vehicle: async () => (schemaKnown ? undefined : vehicleHover((await documents.text(uri)) ?? '', position)),
        },
        undefined,
      ),

    documentSymbols: (uri) =>
      byKind(
        uri,
        {
          session: async () => (await elsewhere.views(uri))?.symbols ?? ofSession(uri, sessionSymbols),
          table: () => ofTable(uri, tableSymbols),
        },
        [],
      ),

    foldingRanges: (uri) =>
      byKind(
        uri,
        {
          session: async () => (await elsewhere.views(uri))?.folds ?? ofSession(uri, sessionFolding),
          table: async () => noteFolding((await documents.text(uri)) ?? ''),
        },
        [],
      ),

    selectionRanges: (uri, positions) =>
      byKind(
        uri,
        {
          session: async () => {
            const asked = await Promise.all(positions.map((position) => elsewhere.ask(uri, 'ranges', position)));
            return asked.includes(undefined)
              ? ofSession(uri, (signals) => selectionRanges.session(signals, positions))
              : asked.map((each, index) => each?.ranges ?? { range: { start: positions[index], end: positions[index] } });
          },
          table: () => ofTable(uri, (table) => selectionRanges.table(table, positions)),
        },
        [],
      ),

    documentHighlights: (uri, position) =>
      byKind(
        uri,
        {
          session: async () => {
            const asked = await elsewhere.ask(uri, 'lights', position);
            return asked ? [...(asked.lights ?? [])] : ofSession(uri, (signals) => documentHighlights.session(signals, position));
          },
          table: () => ofTable(uri, (table) => documentHighlights.table(table, position)),
        },
        [],
      ),

    completions: (uri, position, schemaKnown = false) =>
      byKind(
        uri,
        {
          vehicle: () => vehicleCompletions(workspace, documents, uri, position, schemaKnown),
        },
        [],
      ),

    codeLenses: (uri, options = {}) =>
      byKind(
        uri,
        {
          session: async () =>
            asWanted((await elsewhere.views(uri))?.lenses, options) ?? ofSession(uri, (signals) => sessionLenses(signals, uri, options)),
          table: () =>
            ofTable(uri, async (table) => {
              const evidence = (await evidenceNow(uri))?.value;
              return tableLenses(
                {
                  uri,
                  table,
                  text: (await documents.text(uri)) ?? '',
                  evidence,
                  held: evidence ? (await weigher.heldToEarlier(uri)).length : 0,
                },
                options,
              );
            }),
        },
        [],
      ),

    definition: (uri, position) =>
      byKind(
        uri,
        {
          session: async () => {
            const asked = await elsewhere.ask(uri, 'definition', position);
            return asked
              ? [...(asked.links ?? [])]
              : ofSession(uri, async (signals) => {
                  const fuel = await fuelledBy(uri, signals);
                  return fuel && sessionDefinition(signals, position, fuel.table, fuel.uri, fuel.delays);
                });
          },
        },
        [],
      ),

    references: (uri, position, progress) =>
      byKind(
        uri,
        {
          table: () => ofTable(uri, async (table) => tableReferences(table, position, (await weigher.evidence(uri, progress))?.value)),
        },
        [],
      ),

    codeActions: (uri, selected, maxChangePercent, progress) =>
      byKind(
        uri,
        {
          table: async () => {
            await weigher.evidence(uri, progress);
            return progress?.cancelled ? [] : tableActions(workspace, documents, weigher, uri, selected, maxChangePercent);
          },
        },
        [],
      ),

    review: async (uri, oldName, oldText, progress) => {
      const review = await reviewTable(
        workspace,
        documents,
        weigher,
        { table: readTable(oldText), text: oldText, name: oldName },
        uri,
        progress ? { progress } : {},
      );
      return review && ('refused' in review ? review : { markdown: reviewMarkdown(review) });
    },

    inlayHints: (uri, visible) =>
      byKind(
        uri,
        {
          table: () => ofTable(uri, async (table) => tableInlayHints(table, visible, (await evidenceNow(uri))?.value)),
        },
        [],
      ),

    format: (uri) => byKind(uri, { table: async () => alignTable((await documents.text(uri)) ?? '') }, []),

    semanticTokens: (uri, { first, last } = { first: 0, last: Infinity }) =>
      byKind(
        uri,
        {
          session: async () =>
            (await elsewhere.views(uri))?.tokens?.filter(({ line }) => first <= line && line <= last) ??
            ofSession(uri, (signals) => sessionTokens(signals, first, last)),
          table: () => ofTable(uri, (table) => tableTokens(table, first, last)),
        },
        [],
      ),

    workspaceSymbols: async (query) =>
      workspaceSymbols(documents, (await Promise.all(workspace.folders.map((folder) => files.filesBelow(folder)))).flat(), query),
    renameEdits: (renames) => renameEdits(workspace, documents, renames),

    documentLinks: (uri) => byKind(uri, { vehicle: () => vehicleLinks(workspace, documents, uri) }, []),
  };
}
