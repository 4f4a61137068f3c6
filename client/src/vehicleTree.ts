// The vehicles in the side bar: what is asked of the server when a branch is opened, and how a branch looks.

import {
  EventEmitter,
  l10n,
  Range,
  ThemeColor,
  ThemeIcon,
  TreeItem,
  TreeItemCollapsibleState,
  Uri,
  type Event,
  type TreeDataProvider,
} from 'vscode';
import {
  VEHICLE,
  type CellNode,
  type FindingCounts,
  type NodeParams,
  type PullNode,
  type RecordingNode,
  type SessionNode,
  type TableNode,
  type VehicleFiles,
  type VehicleNode,
} from '../../server/src/protocol/vehicle.js';
import {
  cellNodeWords,
  cellsWords,
  proofLabel,
  pullLabel,
  pullWords,
  recordingLabel,
  recordingWords,
  sessionWords,
  tableWords,
  vehicleWords,
} from './vehicleWords.js';

/** A branch. `unfolded`: few enough to be shown open. */
export type Branch =
  | { readonly kind: 'vehicle'; readonly vehicle: VehicleNode; readonly unfolded: boolean }
  | { readonly kind: 'group'; readonly vehicle: VehicleNode; readonly of: 'sessions' | 'tables' }
  | { readonly kind: 'session'; readonly session: SessionNode }
  | { readonly kind: 'recording'; readonly session: SessionNode; readonly recording: RecordingNode }
  | { readonly kind: 'pull'; readonly session: SessionNode; readonly pull: PullNode }
  | { readonly kind: 'table'; readonly table: TableNode }
  | { readonly kind: 'proof'; readonly table: TableNode; readonly proof: 'firm' | 'thin' | 'none' }
  | { readonly kind: 'cell'; readonly table: TableNode; readonly cell: CellNode };

export type Ask = <Result>(method: string, params?: NodeParams) => Promise<Result>;

/** Of more vehicles than these each is shown folded. */
const FEW = 3;
/** More cells than these are not for a list: the table itself shows them all. */
const MOST_CELLS = 200;

export class VehicleTree implements TreeDataProvider<Branch> {
  private readonly changed = new EventEmitter<undefined>();
  readonly onDidChangeTreeData: Event<undefined> = this.changed.event;
  /** Each branch under the one that it was shown in. */
  private readonly parents = new WeakMap<Branch, Branch>();

  /** `told`: hears the vehicles whenever they are asked for. */
  constructor(
    private readonly ask: Ask,
    private readonly told: (vehicles: readonly VehicleNode[]) => void,
  ) {}

  /** What is shown may be otherwise now: what is open is asked for again. */
  refresh(): void {
    this.changed.fire(undefined);
  }

  getParent(branch: Branch): Branch | undefined {
    return this.parents.get(branch);
  }

  async getChildren(branch?: Branch): Promise<Branch[]> {
    const children = await this.childrenOf(branch);
    if (branch) for (const child of children) this.parents.set(child, branch);
    return children;
  }

  private async childrenOf(branch: Branch | undefined): Promise<Branch[]> {
    switch (branch?.kind) {
      case undefined: {
        const vehicles = await this.ask<VehicleNode[]>(VEHICLE.list);
        this.told(vehicles);
        return vehicles.map((vehicle): Branch => ({ kind: 'vehicle', vehicle, unfolded: vehicles.length <= FEW }));
      }
      case 'vehicle': {
        const { vehicle } = branch;
        return (['sessions', 'tables'] as const).filter((of) => vehicle[of] > 0).map((of): Branch => ({ kind: 'group', vehicle, of }));
      }
      case 'group': {
        const files = await this.ask<VehicleFiles>(VEHICLE.files, { uri: branch.vehicle.uri });
        return branch.of === 'sessions'
          ? files.sessions.map((session): Branch => ({ kind: 'session', session }))
          : files.tables.map((table): Branch => ({ kind: 'table', table }));
      }
      case 'session': {
        const { session } = branch;
        const recordings = await this.ask<RecordingNode[]>(VEHICLE.session, { uri: session.uri });
        return recordings.length > 1
          ? recordings.map((recording): Branch => ({ kind: 'recording', session, recording }))
          : recordings.flatMap((recording) => pullsOf(session, recording));
      }
      case 'recording':
        return pullsOf(branch.session, branch.recording);
      case 'table': {
        const { table } = branch;
        return (['firm', 'thin', 'none'] as const)
          .filter((proof) => (table.proof?.[proof] ?? 0) > 0)
          .map((proof): Branch => ({ kind: 'proof', table, proof }));
      }
      case 'proof': {
        const { table, proof } = branch;
        const cells = await this.ask<CellNode[]>(VEHICLE.table, { uri: table.uri });
        return cells
          .filter((cell) => cell.proof === proof)
          .slice(0, MOST_CELLS)
          .map((cell): Branch => ({ kind: 'cell', table, cell }));
      }
      case 'pull':
      case 'cell':
        return [];
    }
  }

  getTreeItem(branch: Branch): TreeItem {
    const { label, words, state = TreeItemCollapsibleState.None, icon, context, id, tooltip } = looksOf(branch);
    const item = new TreeItem(label, state);
    item.id = id;
    item.description = words;
    item.iconPath = icon;
    item.contextValue = context;
    item.tooltip = tooltip ?? (words ? `${label}\n${words}` : label);
    // Read aloud as it is seen: the name, then its words.
    item.accessibilityInformation = { label: words ? `${label}, ${words}` : label };
    const place = placeOf(branch);
    // The editor's own command: it keeps the focus here after a click, and takes it into the text after a double click.
    if (place)
      item.command = {
        command: 'vscode.open',
        title: l10n.t('Open'),
        arguments: [place.uri, place.selection ? { selection: place.selection } : {}],
      };
    return item;
  }
}

/** Where a click leads: a pull to its worst moment, a cell to itself. Undefined for a branch that only unfolds. */
export function placeOf(branch: Branch): { readonly uri: Uri; readonly selection?: Range } | undefined {
  const at = (uri: string, line: number, character = 0, endCharacter = character) => ({
    uri: Uri.parse(uri),
    selection: new Range(line, character, line, endCharacter),
  });
  switch (branch.kind) {
    case 'session':
      return { uri: Uri.parse(branch.session.uri) };
    case 'recording':
      return at(branch.session.uri, branch.recording.line);
    case 'pull':
      return at(branch.session.uri, branch.pull.worst?.line ?? branch.pull.line);
    case 'table':
      return { uri: Uri.parse(branch.table.uri) };
    case 'cell':
      return at(branch.table.uri, branch.cell.line, branch.cell.character, branch.cell.endCharacter);
    case 'vehicle':
    case 'group':
    case 'proof':
      return undefined;
  }
}

/** The file alone: its folder is told on hovering. */
const fileName = (path: string): string => path.slice(path.lastIndexOf('/') + 1);

const pullsOf = (session: SessionNode, { pulls }: RecordingNode): Branch[] =>
  pulls.map((pull): Branch => ({ kind: 'pull', session, pull }));

interface Looks {
  readonly id: string;
  readonly label: string;
  readonly words: string;
  readonly icon: ThemeIcon;
  /** For the menus: what may be done with it. */
  readonly context: string;
  readonly state?: TreeItemCollapsibleState;
  readonly tooltip?: string;
}

const { Collapsed, Expanded, None } = TreeItemCollapsibleState;

function looksOf(branch: Branch): Looks {
  switch (branch.kind) {
    case 'vehicle': {
      const { vehicle } = branch;
      const label = vehicle.hasFile ? vehicle.name : l10n.t('{0}: without a vehicle file', vehicle.name);
      return {
        id: vehicle.uri,
        label,
        words: vehicleWords(vehicle),
        icon: iconFor('dashboard', vehicle.findings),
        context: vehicle.hasFile ? 'vehicle' : 'vehicle-none',
        state: branch.unfolded ? Expanded : Collapsed,
        tooltip: `${label}\n${vehicleWords(vehicle)}\n${Uri.parse(vehicle.uri).path}`,
      };
    }
    case 'group': {
      const { vehicle, of } = branch;
      const label = of === 'sessions' ? l10n.t('Sessions') : l10n.t('Tables');
      return {
        id: `${vehicle.uri} ${of}`,
        label,
        words: String(vehicle[of]),
        icon: new ThemeIcon(of === 'sessions' ? 'graph-line' : 'table'),
        context: of,
        state: Expanded,
      };
    }
    case 'session': {
      const { session } = branch;
      const pulls = session.read?.pulls;
      return {
        id: session.uri,
        label: fileName(session.name),
        words: sessionWords(session),
        tooltip: `${session.name}\n${sessionWords(session)}`,
        icon: iconFor('graph-line', session.read?.findings),
        context: 'session',
        state: pulls === 0 ? None : Collapsed,
      };
    }
    case 'recording': {
      const { session, recording } = branch;
      return {
        id: `${session.uri} recording ${recording.number}`,
        label: recordingLabel(recording),
        words: recordingWords(recording),
        icon: new ThemeIcon('record'),
        context: 'recording',
        state: recording.pulls.length > 0 ? Collapsed : None,
      };
    }
    case 'pull': {
      const { session, pull } = branch;
      return {
        id: `${session.uri} pull ${pull.number}`,
        label: pullLabel(pull),
        words: pullWords(pull),
        context: 'pull',
        icon: pull.leanS ? new ThemeIcon('warning', new ThemeColor('list.warningForeground')) : new ThemeIcon('arrow-up'),
      };
    }
    case 'table': {
      const { table } = branch;
      return {
        id: table.uri,
        label: fileName(table.name),
        words: tableWords(table),
        tooltip: `${table.name}\n${tableWords(table)}`,
        icon: iconFor('table', table.findings),
        context: (table.proof?.firm ?? 0) > 0 ? 'table-proven' : 'table',
        state: table.proof && table.proof.firm + table.proof.thin > 0 ? Collapsed : None,
      };
    }
    case 'proof': {
      const { table, proof } = branch;
      return {
        id: `${table.uri} ${proof}`,
        label: proofLabel(proof),
        words: cellsWords(table.proof?.[proof] ?? 0),
        context: 'proof',
        icon: new ThemeIcon({ firm: 'pass', thin: 'question', none: 'circle-large-outline' }[proof]),
        state: proof === 'none' ? None : Collapsed,
      };
    }
    case 'cell': {
      const { table, cell } = branch;
      return {
        id: `${table.uri} cell ${cell.row} ${cell.column}`,
        label: cell.words,
        words: cellNodeWords(cell),
        icon: new ThemeIcon('symbol-number'),
        context: 'cell',
      };
    }
  }
}

/** The kind's icon in the colour of the worst finding; the words beside it say the same. */
function iconFor(icon: string, findings: FindingCounts | undefined): ThemeIcon {
  if (findings && findings.errors > 0) return new ThemeIcon(icon, new ThemeColor('list.errorForeground'));
  if (findings && findings.warnings > 0) return new ThemeIcon(icon, new ThemeColor('list.warningForeground'));
  return new ThemeIcon(icon);
}
