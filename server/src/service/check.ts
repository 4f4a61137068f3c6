// Every finding of one file, with what lies around it: the same answer for the editor and the command line.

import { tableFindings, vehicleFindings } from '../findings/check.js';
import type { Finding, TableSubject } from '../findings/finding.js';
import { SourceError, WENT_AWAY } from '../formats/source.js';
import { EMPTY_VEHICLE } from '../formats/vehicle/vehicle.js';
import { createCache } from './cache.js';
import { followEdits } from './followEdits.js';
import type { Documents, Keyed } from './documents.js';
import type { FileKind } from './fileKind.js';
import { isLasting, keepName, parsed, type Keep } from './keep.js';
import { misplacedTables, missingFiles, refusedJoins, tooManyFiles, unlistedSessions, unlistedTables } from './missingFiles.js';
import type { Weigher, WeighOrder } from './evidence.js';
import { foundIn, type SessionFound, type SessionSummary } from './sessionFound.js';
import type { Scope } from './scope.js';
import type { TellFirst } from './sessionWork.js';
import { relativeTo } from './uris.js';
import { tableOfRole, type VehicleFolder } from './vehicleFolders.js';
import type { Workspace } from './workspace.js';

export type { SessionSummary } from './sessionFound.js';

export interface FileCheck {
  readonly uri: string;
  readonly kind: FileKind;
  /** Worst first, then by place. A `related` place without a `file` is in this file; with one, `file` is a URI. */
  readonly findings: readonly Finding[];
  readonly session?: SessionSummary;
  /** Of a session: what it could be judged by. */
  readonly scope?: Scope;
  /** Changes whenever the findings may. */
  readonly key: string;
  /** Of a long session that is being typed in: places and edited rows are as they are now, the rest is as it was before the edits. */
  readonly isFollowing?: true;
  /** Of a long open session: what the reader noticed, as it stays; the judging goes on. */
  readonly isFirst?: true;
}

/** `unheard`: as it is while the table that the session's note names is not there. */
interface SessionCheck {
  readonly found: FileCheck;
  readonly unheard?: FileCheck;
}

export interface Checker {
  /** Undefined for a file that is none of ours or is not there. `as` overrules what the file says it is. */
  check(uri: string, as?: FileKind): Promise<FileCheck | undefined>;
  /**
   * As `check`, but a table's findings rest on what has been weighed so far, and those of a long session in the making on its last check:
   * for answers that nobody should wait for. `isFirstEnough`: whoever asks asks again when all is judged.
   */
  checkSoFar(uri: string, isFirstEnough?: boolean): Promise<FileCheck | undefined>;
}

/** Open sessions whose last check is remembered. */
const MOST_FOLLOWED = 20;

/** Checks that are remembered, of sessions and of tables. */
const MOST_CHECKS = 5000;

/**
 * What a log says of itself when it is read alone, and no more when it is read with the other: what it lacks, and what the other tells of a
 * channel that it took over.
 */
const isToldByOther = ({ code, channel }: Finding, quantities: readonly string[]): boolean =>
  code === 'channel-missing' ||
  ((code === 'channel-clipped' || code === 'sensor-dropout') && channel !== undefined && quantities.includes(channel));

/** `remembered`: how many checks are, where each is asked for but once. */
export function createChecker(
  workspace: Workspace,
  documents: Documents,
  weigher: Weigher,
  keep?: Keep,
  remembered = MOST_CHECKS,
): Checker {
  const checks = createCache<FileCheck>(remembered);
  const sessionChecks = createCache<SessionCheck>(remembered);

  /** Done elsewhere, the session is weighed on the way: it is read once. */
  const find = async (uri: string, first: TellFirst): Promise<SessionFound> => {
    let order: WeighOrder | undefined;
    const work = await documents.elsewhere(uri, async () => (order = await weigher.order(uri))?.task, first);
    if (work?.found) {
      // The findings do not wait for it; whoever needs it finds it in the making.
      if (order && work.evidence) weigher.keep(order, work.evidence).catch(() => undefined);
      return work.found;
    }
    const read = await documents.signals(uri);
    if (!read) throw new SourceError(WENT_AWAY, uri);
    return foundIn(read.value);
  };

  /** Checks of open sessions, from the last of which edits are followed; `begun` tells which of two is the later. */
  const whole = new Map<string, { readonly begun: number; readonly key: string; readonly stamp: string; readonly check: SessionCheck }>();
  const following = createCache<FileCheck | undefined>(20);
  let begun = 0;

  /** What is told of sessions that are being judged. */
  const firsts = new Map<string, { readonly key: string; readonly check: Promise<FileCheck> }>();

  const checkSession = async (uri: string, soFar: boolean, isFirstEnough: boolean): Promise<FileCheck | undefined> => {
    const key = await documents.signalsKey(uri);
    if (key === undefined) return undefined;
    const follows = soFar ? await followed(uri, key) : undefined;
    if (follows) return asJoined(uri, follows);
    // Of what is not open nothing is followed.
    const mine = { begun: ++begun, key, stamp: workspace.languageId?.(uri) === undefined ? undefined : await workspace.stamp(uri) };
    const judged = sessionChecks
      .get(uri, key, async () => {
        let tell: TellFirst = () => undefined;
        const first = {
          key,
          check: new Promise<FileCheck>((resolve) => {
            tell = (findings) => {
              resolve({ uri, kind: 'session', key: `${key}|first`, findings, isFirst: true });
            };
          }),
        };
        firsts.set(uri, first);
        const check = await keptOr(uri, key, async () => {
          const { session, scope, ...all } = await find(uri, tell);
          const found: FileCheck = { uri, kind: 'session', key, findings: all.findings, session, scope };
          return {
            found,
            ...(all.unheard ? { unheard: { ...found, key: `${key}|${all.unheard.said}`, findings: all.unheard.findings } } : {}),
          };
        });
        if (firsts.get(uri) === first) firsts.delete(uri);
        return check;
      })
      .then((check) => {
        const last = whole.get(uri);
        if (mine.stamp !== undefined && last?.key !== key && mine.begun > (last?.begun ?? 0)) {
          whole.delete(uri);
          whole.set(uri, { ...mine, stamp: mine.stamp, check });
          if (whole.size > MOST_FOLLOWED) whole.delete([...whole.keys()][0]);
        }
        return asHeard(uri, check);
      })
      .then((check) => asJoined(uri, check));
    const first = isFirstEnough ? firsts.get(uri) : undefined;
    return first?.key === key ? Promise.race([judged, first.check]) : judged;
  };

  /** The table that a note names comes and goes without the session changing. */
  const asHeard = async (uri: string, { found, unheard }: SessionCheck): Promise<FileCheck> =>
    unheard && (await weigher.missingTable(uri)) !== undefined ? unheard : found;

  /**
   * Of a file that is read with another the judgement on mixture and load is that one's: by itself it knows no fuel cut and no load. A
   * channel that the other has of its own is not judged there.
   */
  const asJoined = async (uri: string, check: FileCheck): Promise<FileCheck> => {
    const folder = await documents.vehicleFolder(uri),
      path = folder && relativeTo(folder.uri, uri),
      join = path === undefined ? undefined : folder!.document.vehicle.joins.find(({ second }) => second === path);
    const first = join && (await workspace.resolve(folder!.uri, join.first)),
      joined = first === undefined ? undefined : await documents.joined(first);
    return joined?.path === path && joined && 'how' in joined
      ? {
          ...check,
          key: `${check.key}|joined`,
          findings: check.findings.filter((finding) => !isToldByOther(finding, joined.quantities ?? [])),
        }
      : check;
  };

  /** The last whole check carried along the edits since; undefined where there is none, it still holds, or the edits change too much. */
  const followed = async (uri: string, key: string): Promise<FileCheck | undefined> => {
    const last = whole.get(uri);
    if (!last || last.key === key) return undefined;
    const edited = workspace.edited?.(uri, last.stamp);
    return (
      edited &&
      following.get(uri, `${last.begun}|${key}`, async () => {
        const check = await asHeard(uri, last.check);
        const findings = followEdits(check.findings, edited, (await documents.vehicleFolder(uri))?.document.vehicle ?? EMPTY_VEHICLE);
        return findings && { ...check, findings, key: `${key}|following ${last.begun}`, isFollowing: true };
      })
    );
  };

  /** From what an earlier run kept, else checked and kept. */
  const keptOr = async (uri: string, key: string, make: () => Promise<SessionCheck>): Promise<SessionCheck> => {
    if (!keep || !isLasting(key)) return make();
    const name = keepName('session check', keep.version, uri, key);
    const kept = parsed(await keep.get(name)) as SessionCheck | undefined;
    if (kept?.found?.key === key) return kept;
    const made = await make();
    await keep.put(name, JSON.stringify(made));
    return made;
  };

  const checkTable = async (uri: string, evidenceOf: Weigher['evidence']): Promise<FileCheck | undefined> => {
    const read = await documents.table(uri);
    if (!read) return undefined;
    const folder = await documents.vehicleFolder(uri);
    const vehicle = folder && (await documents.vehicle(folder.fileUri));
    const evidence = await evidenceOf(uri);
    const fuelled = folder && (await tableOfRole(workspace, folder, 'target')) === uri ? await fuelledBy(folder, evidenceOf) : undefined;
    const key = [read.key, vehicle?.key, evidence?.key, fuelled?.key].join('|');
    return checks.get(uri, key, async () => ({
      uri,
      kind: 'table',
      key,
      findings: tableFindings({
        table: read.value,
        vehicle: vehicle?.value,
        evidence: evidence?.value,
        ...(fuelled ? { fuelled: fuelled.value } : {}),
      }),
    }));
  };

  /** The vehicle's fuel table with its evidence; undefined where there is none. */
  const fuelledBy = async (
    folder: VehicleFolder,
    evidenceOf: Weigher['evidence'],
  ): Promise<Keyed<NonNullable<TableSubject['fuelled']>> | undefined> => {
    const uri = await tableOfRole(workspace, folder, 'fuel'),
      table = uri === undefined ? undefined : await documents.table(uri),
      evidence = table && (await evidenceOf(uri!));
    return evidence && { key: evidence.key, value: { table: table.value, evidence: evidence.value } };
  };

  const checkVehicle = async (uri: string): Promise<FileCheck | undefined> => {
    const read = await documents.vehicle(uri);
    const folder = await documents.vehicleFolder(uri);
    if (!read || !folder) return undefined;
    // Files come and go without the vehicle file changing, so this is not cached.
    const around = { ...folder, fileUri: uri, document: read.value };
    const missing = [
      ...(await missingFiles(workspace, around)),
      ...(await refusedJoins(documents, workspace, around)),
      ...(await tooManyFiles(workspace, around)),
      ...(await misplacedTables(documents, workspace, around)),
      ...(await unlistedSessions(documents, workspace, around)),
      ...(await unlistedTables(documents, workspace, around, weigher.notedTable)),
    ];
    const document = { ...read.value, problems: [...read.value.problems, ...missing], rangeOf: read.value.rangeOf.bind(read.value) };
    const findings = vehicleFindings(document);
    return {
      uri,
      kind: 'vehicle',
      key: `${read.key}|${missing.map(({ data }) => String(data.path ?? `${data.key}${data.left ?? ''}`)).join('|')}`,
      findings,
    };
  };

  const check = async (uri: string, kind: FileKind | undefined, soFar: boolean, isFirstEnough: boolean): Promise<FileCheck | undefined> => {
    switch (kind) {
      case 'session':
        return checkSession(uri, soFar, isFirstEnough);
      case 'table':
        return checkTable(uri, soFar ? weigher.evidenceSoFar : weigher.evidence);
      case 'vehicle':
        return checkVehicle(uri);
      case undefined:
        return undefined;
    }
  };

  return {
    check: async (uri, as) => check(uri, as ?? (await documents.kindOf(uri))?.kind, false, false),
    checkSoFar: async (uri, isFirstEnough = false) => check(uri, (await documents.kindOf(uri))?.kind, true, isFirstEnough),
  };
}
