// Files as documents: each read once for each state of its bytes and of what it is read with, and shared by every feature.

import { readTable } from '../formats/table/readTable.js';
import { readVehicle } from '../formats/vehicle/readVehicle.js';
import type { Session } from '../formats/session/session.js';
import { SourceError, WENT_AWAY, type ByteSource } from '../formats/source.js';
import type { Table } from '../formats/table/table.js';
import { EMPTY_VEHICLE, type Vehicle, type VehicleDocument } from '../formats/vehicle/vehicle.js';
import { analyse } from '../signals/analyse.js';
import { joinInMemory } from '../signals/clocks/joinInMemory.js';
import type { Signals } from '../signals/signals.js';
import { createCache } from './cache.js';
import type { Edit } from './followEdits.js';
import { headOf, kindByHead, kindByLanguage, kindByName, readAnySession, type FileKind } from './fileKind.js';
import type { MadeViews } from './views/sessionViews.js';
import { answerOf, type About, type AskSession, type Asked, type Said } from './sessionQuestion.js';
import type { AskElsewhere, Elsewhere, SessionTask, SessionWork, TellFirst, WeighTask } from './sessionWork.js';
import { textOf } from './text.js';
import { folderOf } from './uris.js';
import { joinedTo, listsAsSession, listsAsTable, tableOfRole, vehicleFileFor, type VehicleFolder } from './vehicleFolders.js';
import type { Workspace } from './workspace.js';

/** What was read, with the key that changes whenever it might read otherwise: what is derived from it is cached by that. */
export interface Keyed<T> {
  readonly key: string;
  readonly value: T;
}

export interface Documents {
  /** How many sessions can be worked on at once. */
  readonly lanes: number;
  /** What the file is and how that is known; undefined for a file that is none of ours or is not there. */
  kindOf(uri: string): Promise<{ readonly kind: FileKind; readonly from: 'name' | 'language' | 'vehicle' | 'head' } | undefined>;
  /** The vehicle a file belongs to; undefined outside of any. */
  vehicleFolder(uri: string): Promise<VehicleFolder | undefined>;
  vehicle(uri: string): Promise<Keyed<VehicleDocument> | undefined>;
  /** A table or vehicle file as text. */
  text(uri: string): Promise<string | undefined>;
  table(uri: string): Promise<Keyed<Table> | undefined>;
  /** The key that the session's signals have now, without reading the session; undefined where there is no such file. */
  signalsKey(uri: string): Promise<string | undefined>;
  /** A session as its own file has it, nothing joined to it; not kept. */
  session(uri: string): Promise<Session | undefined>;
  /** The same of its first lines alone. */
  head(uri: string): Promise<Session | undefined>;
  /** Names of a session's channels, each with whether it is recognised as it is: by its first lines, where those are all of a header. */
  channelNames(uri: string): Promise<readonly (readonly [name: string, isKnown: boolean])[]>;
  /** What came of joining another file to it; undefined where none is. */
  joined(uri: string): Promise<Session['joined']>;
  /**
   * A session worked on elsewhere; undefined where that is not to be had, an open text is joined to it, or its samples are in memory here.
   */
  elsewhere(uri: string, weighs: () => Promise<WeighTask | undefined>, first?: TellFirst): Promise<SessionWork | undefined>;
  /** Whether a session is a long one in the making, of which nothing is to be read here and nothing is in memory here. */
  isElsewhere(uri: string): Promise<boolean>;
  /** What was made elsewhere last for the editor to show around the session; undefined where nothing was. */
  views(uri: string): MadeViews | undefined;
  /** Keeps them, where `before` are the last ones still. */
  keepViews(uri: string, views: MadeViews, before: MadeViews | undefined): void;
  /**
   * Asks a session, where it is at hand or is best read, with the key that the answer holds for; undefined where there is no such file.
   * `keeps`: more will be asked of it.
   */
  ask<A extends About>(uri: string, about: A, asked: Asked<A>, keeps?: boolean): Promise<Keyed<Said<A>> | undefined>;
  /**
   * A long open session as it was read before somebody typed in it, with the edits since; undefined where it is at hand as it is, or those
   * are not known.
   */
  before(uri: string): Promise<{ readonly key: string; readonly ask: AskSession; readonly edits: readonly Edit[] } | undefined>;
  /** A session, read and analysed with its vehicle and the vehicle's target table. */
  signals(uri: string): Promise<Keyed<Signals> | undefined>;
}

export interface DocumentOptions {
  /** A vehicle file that every file belongs to, wherever it lies. */
  readonly vehicleUri?: string;
  /** Bytes of sample columns that are kept for sessions read before; the newest is kept whatever it weighs. */
  readonly sessionCacheBytes?: number;
  /** Another thread for sessions. */
  readonly elsewhere?: Elsewhere;
  readonly askElsewhere?: AskElsewhere;
  /** Whether an open session is so long that only the other thread reads it. */
  readonly isLong?: (uri: string) => boolean;
  /** How many sessions that works on at once. */
  readonly lanes?: number;
  /** As of `ReadOptions`. */
  readonly knownAlone?: true;
}

const SESSION_CACHE_BYTES = 256 << 20;
/** Long open sessions whose views are kept, and sessions elsewhere that are known to be at hand there. */
const MOST_VIEWS = 20;

export function createDocuments(workspace: Workspace, options: DocumentOptions = {}): Documents {
  const kinds = createCache<FileKind | undefined>(1000);
  const texts = createCache<string>(200);
  const tables = createCache<Table>(200);
  const names = createCache<readonly (readonly [string, boolean])[]>(200);
  const joins = createCache<Session['joined']>(200);
  const vehicles = createCache<VehicleDocument>(200);
  const signals = createCache<Signals>(options.sessionCacheBytes ?? SESSION_CACHE_BYTES, weightOf);

  const views = new Map<string, MadeViews>();
  /** Sessions that were read elsewhere to be asked about. */
  const held = new Map<string, AtHand>();

  const opened = async (uri: string): Promise<{ stamp: string; source: () => Promise<ByteSource> } | undefined> => {
    const stamp = await workspace.stamp(uri);
    if (stamp === undefined) return undefined;
    return {
      stamp,
      source: async () => {
        const source = await workspace.open(uri);
        if (!source) throw new SourceError(WENT_AWAY, uri);
        return source;
      },
    };
  };

  /** A session's file and all that it is read with. */
  const around = async (uri: string) => {
    const file = await opened(uri);
    if (!file) return undefined;
    const folder = await documents.vehicleFolder(uri);
    const vehicle = folder?.document.vehicle ?? EMPTY_VEHICLE;
    const targetUri = folder && (await tableOfRole(workspace, folder, 'target'));
    const target = targetUri === undefined ? undefined : await documents.table(targetUri);
    const joined = folder && joinedTo(folder, uri);
    const other = joined === undefined ? undefined : await workspace.resolve(folder!.uri, joined);
    const otherFile = other === undefined ? undefined : await opened(other);
    // What an editor shows of it is here alone.
    const second = otherFile && {
      path: joined!,
      uri: other!,
      source: otherFile.source,
      isHere: workspace.languageId?.(other!) !== undefined || !other!.startsWith('file:'),
    };
    return { key: [file.stamp, vehicleKey(vehicle), target?.key, otherFile?.stamp].join('|'), file, vehicle, target, targetUri, second };
  };

  const taskOf = async (
    uri: string,
    { vehicle, target, targetUri, second }: NonNullable<Awaited<ReturnType<typeof around>>>,
  ): Promise<SessionTask> => {
    const targetTable = target && targetUri !== undefined ? await documents.text(targetUri) : undefined;
    return {
      uri,
      vehicle,
      ...(targetTable === undefined ? {} : { targetTable }),
      ...(second ? { joins: { uri: second.uri, path: second.path } } : {}),
    };
  };

  const documents: Documents = {
    lanes: options.elsewhere ? (options.lanes ?? 1) : 1,

    async kindOf(uri) {
      const byName = kindByName(uri);
      if (byName) return { kind: byName, from: 'name' };
      const byLanguage = kindByLanguage(workspace.languageId?.(uri));
      if (byLanguage) return { kind: byLanguage, from: 'language' };
      const file = await opened(uri);
      if (!file) return undefined;
      const folder = await documents.vehicleFolder(uri);
      if (folder && listsAsTable(folder, uri)) return { kind: 'table', from: 'vehicle' };
      if (folder && listsAsSession(folder, uri)) return { kind: 'session', from: 'vehicle' };
      const byHead = await kinds.get(uri, file.stamp, async () => kindByHead(uri, await file.source()));
      return byHead && { kind: byHead, from: 'head' };
    },

    async vehicleFolder(uri) {
      const fileUri = options.vehicleUri ?? (kindByName(uri) === 'vehicle' ? uri : await vehicleFileFor(workspace, uri));
      const read = fileUri === undefined ? undefined : await documents.vehicle(fileUri);
      return fileUri !== undefined && read ? { uri: folderOf(fileUri), fileUri, document: read.value } : undefined;
    },

    async vehicle(uri) {
      const file = await opened(uri);
      if (!file) return undefined;
      return { key: file.stamp, value: await vehicles.get(uri, file.stamp, async () => readVehicle(textOf(await file.source()))) };
    },

    async text(uri) {
      const file = await opened(uri);
      return file && texts.get(uri, file.stamp, async () => textOf(await file.source()));
    },

    async table(uri) {
      const file = await opened(uri);
      if (!file) return undefined;
      return {
        key: file.stamp,
        value: await tables.get(uri, file.stamp, async () =>
          readTable(await texts.get(uri, file.stamp, async () => textOf(await file.source()))),
        ),
      };
    },

    async signalsKey(uri) {
      return (await around(uri))?.key;
    },

    async session(uri) {
      const session = await around(uri);
      return session && readAnySession(uri, await session.file.source(), session);
    },

    async head(uri) {
      const session = await around(uri),
        head = session && headOf(await session.file.source());
      return head && readAnySession(uri, head, session);
    },

    async channelNames(uri) {
      const key = await documents.signalsKey(uri);
      return key === undefined
        ? []
        : names.get(uri, key, async () => {
            const head = await documents.head(uri);
            // In the long form a channel is named where it first has a reading.
            return head?.form === 'long'
              ? ((await documents.ask(uri, 'channels', null, false))?.value ?? [])
              : (head?.channels.map(({ name, quantity }) => [name, quantity !== undefined] as const) ?? []);
          });
    },

    async joined(uri) {
      const session = await around(uri);
      return session?.second && joins.get(uri, session.key, async () => (await documents.ask(uri, 'joined', null, false))?.value);
    },

    async elsewhere(uri, weighs, first) {
      const session = options.elsewhere && (await around(uri));
      if (!options.elsewhere || !session || session.second?.isHere || signals.has(uri, session.key)) return undefined;
      const weigh = await weighs();
      const work = await options.elsewhere(
        { ...(await taskOf(uri, session)), ...(weigh ? { weigh } : {}) },
        async () => workspace.open(uri),
        first,
      );
      if (work?.views)
        documents.keepViews(
          uri,
          {
            key: session.key,
            stamp: session.file.stamp,
            views: work.views,
            ...(work.ask ? { read: { stamp: session.file.stamp, key: session.key, ask: work.ask } } : {}),
          },
          views.get(uri),
        );
      return work;
    },

    async isElsewhere(uri) {
      if (!options.isLong?.(uri)) return false;
      const session = await around(uri);
      return session !== undefined && !session.second?.isHere && !signals.has(uri, session.key);
    },

    views: (uri) => views.get(uri),

    keepViews(uri, made, before) {
      if (views.get(uri) !== before) return;
      keepLast(views, uri, made);
    },

    async ask(uri, about, asked, keeps = true) {
      const session = await around(uri);
      if (!session) return undefined;
      const { key } = session,
        isHere = !options.askElsewhere || session.second?.isHere === true || signals.has(uri, key);
      // Nothing is awaited between the last look at what is at hand and a reading that others find there.
      const task = isHere ? undefined : await taskOf(uri, session);
      const tried = new Set<AtHand>(),
        untried = (): AtHand | undefined => [held.get(uri), views.get(uri)?.read].find((each) => each?.key === key && !tried.has(each));
      for (let known = isHere ? undefined : untried(); known; known = untried()) {
        tried.add(known);
        try {
          return { key, value: await (await known.ask)(about, asked) };
        } catch {
          /* It was let go there, and is read again. */
        }
      }
      const reading = task && options.askElsewhere!(task, { about, asked }, async () => workspace.open(uri), keeps);
      if (!reading) {
        const read = await documents.signals(uri);
        return read && { key: read.key, value: answerOf(read.value, { about, asked }) };
      }
      if (keeps) {
        const later = reading.then(({ ask }) => ask);
        later.catch(() => undefined);
        keepLast(held, uri, { key, ask: later });
      }
      return { key, value: (await reading).said };
    },

    async before(uri) {
      const read = views.get(uri)?.read,
        key = read && (await documents.signalsKey(uri));
      const edits = !read || read.key === key || held.get(uri)?.key === key ? undefined : workspace.edited?.(uri, read.stamp)?.edits;
      return edits && { key: read!.key, ask: read!.ask, edits };
    },

    async signals(uri) {
      const session = await around(uri);
      if (!session) return undefined;
      const { key, file, vehicle, target, second } = session;
      const value = await signals.get(uri, key, async () => {
        const own = readAnySession(uri, await file.source(), { vehicle, knownAlone: options.knownAlone && !second });
        const read = second ? joinInMemory(own, readAnySession(second.uri, await second.source(), { vehicle }), second.path) : own;
        return analyse(read, vehicle, target ? { targetTable: target.value } : {});
      });
      return { key, value };
    },
  };
  return documents;
}

/** A session that was read elsewhere under a key, and can be asked there while it is at hand. */
interface AtHand {
  readonly key: string;
  readonly ask: AskSession | Promise<AskSession>;
}

function keepLast<T>(all: Map<string, T>, uri: string, one: T): void {
  all.delete(uri);
  all.set(uri, one);
  if (all.size > MOST_VIEWS) all.delete([...all.keys()][0]);
}

/** What a vehicle says, whatever the spacing of its file: editing a blank there reads no session again. */
const vehicleKey = (vehicle: Vehicle): string => JSON.stringify({ ...vehicle, name: undefined, channels: [...vehicle.channels] });

/** Bytes of a session's columns, and about as much again for what was derived from them. */
const weightOf = ({ session }: Signals): number => session.samples * 8 * (session.channels.length * 2 + 10);
