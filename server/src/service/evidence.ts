// What a vehicle's sessions prove about a table: each session weighed once, the table judged anew whenever it changes.

import { readTable } from '../formats/table/readTable.js';
import { SourceError, WENT_AWAY } from '../formats/source.js';
import type { Table } from '../formats/table/table.js';
import { FUEL_TABLE_QUANTITIES } from '../formats/table/table.js';
import type { Evidence } from '../fueling/evidence.js';
import { canBeWeighed } from '../fueling/solution/grid.js';
import { evidenceLine, readEvidenceLine } from '../fueling/evidenceFile.js';
import { countedOnce } from '../fueling/doubts/sameReadings.js';
import { judge, judgeBreathing, type SessionEvidence, type TallyElsewhere } from '../fueling/weigh.js';
import { createCache } from './cache.js';
import type { WeighedDelay } from './delays.js';
import type { Documents, Keyed } from './documents.js';
import { aroundTable, gated } from './gate.js';
import { isLasting, keepName, type Keep } from './keep.js';
import { gridKey, sameNumbers } from './sameTable.js';
import { createLoggedWith, type TableState } from './loggedWith.js';
import { madeTheTable } from './sessionHead.js';
import { isEarlierTable, tableOfRole, weighedSessionsOf, type VehicleFolder } from './vehicleFolders.js';
import { baseName } from './uris.js';
import { weighFor } from './sessionFound.js';
import type { WeighTask } from './sessionWork.js';
import type { Progress, Workspace } from './workspace.js';

export interface Weigher {
  /** The evidence on a table of a vehicle; undefined for a table that sessions don't speak of. `session` in it is a URI. */
  evidence(tableUri: string, progress?: Progress): Promise<Keyed<Evidence> | undefined>;
  /**
   * As `evidence`, from what has been weighed so far (a session edited since counts as it was); undefined until every session was weighed
   * once.
   */
  evidenceSoFar(tableUri: string): Promise<Keyed<Evidence> | undefined>;
  /** Whether the vehicle's sessions speak of the table. */
  isWeighed(tableUri: string): Promise<boolean>;
  /** The evidence of these sessions alone, whatever the vehicle says of the table. */
  evidenceOf(tableUri: string, sessionUris: readonly string[], progress?: Progress): Promise<Keyed<Evidence> | undefined>;
  /**
   * Weighs one session for the table that its vehicle's sessions speak of, so that `evidence` finds it done while its samples are still in
   * memory.
   */
  weighAhead(sessionUri: string): Promise<void>;
  /** What weighing the session for that table takes; undefined where there is none, or it was weighed already. */
  order(sessionUri: string): Promise<WeighOrder | undefined>;
  /** Keeps evidence that is weighed elsewhere. */
  keep(order: WeighOrder, evidence: Promise<SessionEvidence>): Promise<void>;
  /** The table judged by evidence that was kept (see fueling/evidenceFile.ts), merged with that of sessions. */
  judged(tableUri: string, evidences: readonly SessionEvidence[]): Promise<Keyed<Evidence> | undefined>;
  /** A session weighed for a table by what the task says, on a thread where there is one; not kept. */
  weigh(sessionUri: string, table: Table, task: WeighTask): Promise<SessionEvidence>;
  /** Each session's evidence, for whoever merges or compares it. */
  sessionEvidences(tableUri: string, sessionUris: readonly string[], progress?: Progress): Promise<readonly SessionEvidence[]>;
  /**
   * The table that was in the engine computer: as the session says, as the vehicle file pins it (`pinned` is the path), else as it was when
   * this session was first weighed. Undefined where the named table is not there, or where the table's own note says that it was made of
   * this session: it then is no evidence on any.
   */
  loggedWith(sessionUri: string, tableUri: string): Promise<TableState | undefined>;
  /** Whether the table's note says that it was corrected by this session (`CORRECTED_FROM`). */
  madeTheTable(sessionUri: string, tableUri: string): Promise<boolean>;
  /** Tells one drive from another, whatever its file is called; undefined where it is gone. */
  driveOf(sessionUri: string): Promise<string | undefined>;
  /** The path of the table that the session's own notes say it was logged with; undefined where nothing is said. */
  notedTable(sessionUri: string): Promise<string | undefined>;
  /**
   * The path that the session's own notes say it was logged with, where no table is there; undefined where all is well or nothing is said.
   */
  missingTable(sessionUri: string): Promise<string | undefined>;
  /** The transport delay that weighing found in a session, from what has been weighed so far; undefined before that. */
  delaySoFar(sessionUri: string): Promise<(WeighedDelay & { readonly loggedWithText: string }) | undefined>;
  /**
   * The sessions that are held to an earlier state of the table than the present one and not pinned to it: the table was edited by hand
   * since it was first seen.
   */
  heldToEarlier(tableUri: string): Promise<readonly string[]>;
  /** The vehicle's table that its sessions are weighed for; undefined without one. */
  weighedTable(folder: VehicleFolder): Promise<string | undefined>;
}

/** Evidence asked for: the name and key that it is kept by, and what it takes. */
export interface WeighOrder {
  readonly name: string;
  readonly key: string;
  readonly sessionUri: string;
  readonly table: Table;
  readonly task: WeighTask;
}

/** `breathe`: lets other work in between the pieces of a long judgement. */
export function createWeigher(
  workspace: Workspace,
  documents: Documents,
  keep?: Keep,
  breathe?: () => Promise<void>,
  tallyElsewhere?: TallyElsewhere,
): Weigher {
  const weighed = createCache<SessionEvidence>(20_000);
  const judged = createCache<Evidence>(50);

  const { stateFor, stateOf, saidTable, headOf, isFirstSeen, lastHead } = createLoggedWith(workspace, documents, keep);
  const loggedWith: Weigher['loggedWith'] = async (sessionUri, tableUri) => stateFor(sessionUri, tableUri, true);

  const orderFor = async (sessionUri: string, tableUri: string, keeps: boolean): Promise<WeighOrder | undefined> => {
    const sessionKey = await documents.signalsKey(sessionUri);
    const table = await stateOf(tableUri);
    const state = await stateFor(sessionUri, tableUri, keeps);
    if (sessionKey === undefined || !table || !state) return undefined;
    const loggedWithOther =
      state.table === table.table ? {} : { loggedWith: { name: state.pinned ?? baseName(tableUri), table: state.text } };
    return {
      name: `${sessionUri} ${tableUri}`,
      key: [sessionKey, gridKey(table.table), state.key].join('|'),
      sessionUri,
      table: table.table,
      task: { table: table.text, ...loggedWithOther, isAssumed: state.pinned === undefined },
    };
  };

  const weighOne = async (sessionUri: string, tableUri: string): Promise<SessionEvidence | undefined> => {
    const order = await orderFor(sessionUri, tableUri, true);
    return order && weighed.get(order.name, order.key, () => keptOr(order, () => weigh(sessionUri, order.table, order.task)));
  };

  const weigh: Weigher['weigh'] = async (sessionUri, table, task) => {
    const work = await documents.elsewhere(sessionUri, async () => ({ ...task, alone: true }));
    if (work?.evidence) return work.evidence;
    const read = await documents.signals(sessionUri);
    if (!read) throw new SourceError(WENT_AWAY, sessionUri);
    const { loggedWith: other, isAssumed } = task;
    return weighFor(read.value, sessionUri, table, other && { name: other.name, table: readTable(other.table) }, isAssumed);
  };

  /** From what an earlier run kept, else weighed and kept. */
  const keptOr = async ({ sessionUri, key, table }: WeighOrder, weigh: () => Promise<SessionEvidence>): Promise<SessionEvidence> => {
    if (!keep || !isLasting(key)) return weigh();
    const name = keepName('evidence', keep.version, sessionUri, key);
    const line = await keep.get(name);
    const read = line === undefined ? undefined : readEvidenceLine(line, table);
    if (read && 'evidence' in read && read.evidence.weight.session === sessionUri) return read.evidence;
    const evidence = await weigh();
    await keep.put(name, evidenceLine(evidence, table, sessionUri));
    return evidence;
  };

  const sessionEvidences: Weigher['sessionEvidences'] = async (tableUri, sessionUris, progress) => {
    const table = await documents.table(tableUri);
    if (!table || !canBeWeighed(table.value)) return [];
    const all: SessionEvidence[] = [];
    for (const [done, uri] of sessionUris.entries()) {
      if (progress?.cancelled) break;
      await progress?.report(done, sessionUris.length, uri);
      // Of hundreds that were weighed before each takes no more than a moment, and all together long.
      if (done % SESSIONS_A_BREATH === 0) await breathe?.();
      // Those to come are begun meanwhile; each is made once.
      for (const next of sessionUris.slice(done + 1, done + documents.lanes)) weighOne(next, tableUri).catch(() => undefined);
      const one = await weighOne(uri, tableUri);
      if (one) all.push(one);
    }
    return countedOnce(all);
  };

  const evidenceOf: Weigher['evidenceOf'] = async (tableUri, sessionUris, progress) => {
    const table = await documents.table(tableUri);
    if (!table) return undefined;
    return judgedBy(tableUri, table, await sessionEvidences(tableUri, sessionUris, progress));
  };

  const judgedBy = async (tableUri: string, table: Keyed<Table>, evidences: readonly SessionEvidence[]): Promise<Keyed<Evidence>> => {
    const around = await aroundTable(workspace, documents, tableUri);
    const key = [table.key, around.key, ...evidences.map(numberOf)].join('|');
    return {
      key,
      value: await judged.get(tableUri, key, async () =>
        gated(
          table.value,
          breathe ? await judgeBreathing(table.value, evidences, breathe, tallyElsewhere) : judge(table.value, evidences),
          evidences,
          around,
        ),
      ),
    };
  };

  const judgedOn: Weigher['judged'] = async (tableUri, evidences) => {
    const table = await documents.table(tableUri);
    return table && judgedBy(tableUri, table, countedOnce(evidences));
  };

  const weighedTable: Weigher['weighedTable'] = async (folder) => tableOfRole(workspace, folder, 'fuel');

  return {
    loggedWith,
    weigh,
    sessionEvidences,
    judged: judgedOn,
    evidenceOf,
    weighedTable,
    madeTheTable: async (sessionUri, tableUri) => {
      const table = await documents.table(tableUri);
      return table !== undefined && madeTheTable(table.value, await headOf(sessionUri));
    },
    driveOf: async (sessionUri) => (await headOf(sessionUri))?.drive,
    notedTable: async (sessionUri) => (await headOf(sessionUri))?.loggedWith,
    async missingTable(sessionUri) {
      const folder = (await headOf(sessionUri))?.loggedWith === undefined ? undefined : await documents.vehicleFolder(sessionUri);
      const said = folder && (await saidTable(sessionUri, folder));
      return said && !said.state ? said.path : undefined;
    },
    async evidence(tableUri, progress) {
      const folder = await documents.vehicleFolder(tableUri);
      if (!folder || !(await speaksOf(folder, tableUri))) return undefined;
      return evidenceOf(tableUri, await weighedSessionsOf(workspace, folder), progress);
    },
    async evidenceSoFar(tableUri) {
      const folder = await documents.vehicleFolder(tableUri);
      const table = await documents.table(tableUri);
      if (!folder || !table || !(await speaksOf(folder, tableUri))) return undefined;
      const sessions = canBeWeighed(table.value) ? await weighedSessionsOf(workspace, folder) : [];
      const evidences: SessionEvidence[] = [];
      for (const session of sessions) {
        // Not by `loggedWith`: to ask in the middle of an edit must not make that state the first that was seen. By the head read last: at
        // each key the disk would be asked of every session.
        const said = await saidTable(session, folder, lastHead(session));
        if ((said && !said.state) || (!said && madeTheTable(table.value, lastHead(session)) && !isFirstSeen(session, tableUri))) continue;
        const last = weighed.last(`${session} ${tableUri}`);
        if (!last) return undefined;
        evidences.push(last);
      }
      return judgedBy(tableUri, table, countedOnce(evidences));
    },
    async delaySoFar(sessionUri) {
      const folder = await documents.vehicleFolder(sessionUri);
      const tableUri = folder && (await weighedTable(folder));
      const found = tableUri === undefined ? undefined : weighed.last(`${sessionUri} ${tableUri}`);
      const table = tableUri === undefined || !found ? undefined : await documents.table(tableUri);
      const state = tableUri === undefined || !table ? undefined : await loggedWith(sessionUri, tableUri);
      // With the car's other sessions, once the table was judged by this weighing of it.
      const fit = found?.weight.transportDelay.fit,
        together =
          fit && tableUri !== undefined
            ? judged.last(tableUri)?.sessions.find(({ session }) => session === sessionUri)?.transportDelay
            : undefined;
      return (
        found &&
        table &&
        state && {
          transportDelay: together && together.fit === fit ? together : found.weight.transportDelay,
          table: table.value,
          loggedWith: state.table,
          loggedWithText: state.text,
        }
      );
    },
    async heldToEarlier(tableUri) {
      const folder = await documents.vehicleFolder(tableUri);
      const table = await documents.table(tableUri);
      if (!folder || !table || !(await speaksOf(folder, tableUri))) return [];
      const held: string[] = [];
      for (const session of await weighedSessionsOf(workspace, folder)) {
        const state = await loggedWith(session, tableUri);
        if (state && state.pinned === undefined && !sameNumbers(state.table, table.value)) held.push(session);
      }
      return held;
    },
    async isWeighed(tableUri) {
      const folder = await documents.vehicleFolder(tableUri);
      return folder !== undefined && (await speaksOf(folder, tableUri));
    },
    async weighAhead(sessionUri) {
      const tableUri = await tableOf(sessionUri);
      if (tableUri !== undefined) await weighOne(sessionUri, tableUri);
    },
    async order(sessionUri) {
      const tableUri = await tableOf(sessionUri);
      const order = tableUri === undefined ? undefined : await orderFor(sessionUri, tableUri, false);
      return order && !weighed.has(order.name, order.key) ? order : undefined;
    },
    async keep(order, evidence) {
      await weighed.get(order.name, order.key, () => keptOr(order, () => evidence));
    },
  };

  /** The table that a session is weighed for. */
  async function tableOf(sessionUri: string): Promise<string | undefined> {
    const folder = await documents.vehicleFolder(sessionUri);
    const tableUri = folder && (await weighedTable(folder));
    const table = tableUri === undefined ? undefined : await documents.table(tableUri);
    return table && canBeWeighed(table.value) ? tableUri : undefined;
  }

  /** Sessions speak of the vehicle's fuel table; where it names none, of every fuel table that is no earlier state of one. */
  async function speaksOf(folder: VehicleFolder, tableUri: string): Promise<boolean> {
    const fuel = await weighedTable(folder);
    if (fuel !== undefined) return fuel === tableUri;
    const table = await documents.table(tableUri);
    return !isEarlierTable(folder, tableUri) && table?.value.quantity !== undefined && FUEL_TABLE_QUANTITIES.includes(table.value.quantity);
  }
}

const SESSIONS_A_BREATH = 20;

/** Each piece of evidence by a number of its own: one that is made anew has another. */
const numbers = new WeakMap<SessionEvidence, number>();
let made = 0;
function numberOf(evidence: SessionEvidence): number {
  let number = numbers.get(evidence);
  if (number === undefined) numbers.set(evidence, (number = ++made));
  return number;
}
