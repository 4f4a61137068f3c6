// Checks what is open, then every file of ours in the open folders, in the background: the newest edit first, started over by each change.

import type { Connection } from 'vscode-languageserver';
import type { FileCheck, FileKind, LanguageService } from '../service/languageService.js';
import { isBelow } from '../service/uris.js';
import type { SessionThreads } from '../disk/sessionThreads.js';
import type { Foreground } from './answer.js';
import { createGrowing, leftFor } from './growing.js';

/** Pause after a change before anything is checked, ms: long enough for the next keystroke to come first. */
const QUIET_MS = 60;
/** Pause before a long session that is being typed in is judged as a whole, ms: longer than between two keystrokes. */
const RESTS_MS = 400;
/** What changes without such a rest, such as a log that is written, is judged meanwhile so often, ms. */
const RESTLESS_MS = 3000;
/** Work shorter than this is not shown as work, ms. */
const SHOWN_AFTER_MS = 400;

/** A wait of its own: the scanner's timer may already be another scan's. */
const passed = (ms: number): Promise<void> =>
  new Promise((resolve) => {
    setTimeout(resolve, ms);
  });

const ORDER: readonly FileKind[] = ['vehicle', 'session', 'table'];

export interface Scanner {
  /** Something may have changed: look again soon. */
  soon(): void;
  /** The last result of each file. */
  readonly results: ReadonlyMap<string, FileCheck>;
  /** Told when a file's findings may have changed; without a result where the file went away. */
  onChecked(listener: (uri: string, check: FileCheck | undefined) => void): void;
  /** Told of every check of a file, also where it found what was found before. */
  onSeen(listener: (uri: string, check: FileCheck | undefined) => void): void;
  /** Told once, when any file's findings may have changed. */
  onceChecked(listener: () => void): void;
  /** Told when a scan begins to be long, goes on, and has ended. */
  onProgress(listener: (progress: { readonly done: number; readonly total: number; readonly uri: string } | 'ended') => void): void;
  /** Tells every result again: what is shown of them may have changed. */
  tellAll(): void;
  /** Ends the present scan; the next change starts another. */
  cancel(): void;
  dispose(): void;
}

export interface ScanScope {
  /** Open files, the one edited last first. */
  readonly open: () => readonly string[];
  readonly folders: () => readonly string[];
  /** Changes whenever the file does. */
  readonly stamp: (uri: string) => Promise<string | undefined>;
}

export function createScanner(
  connection: Connection,
  service: LanguageService,
  scope: ScanScope,
  foreground: Foreground,
  threads?: Pick<SessionThreads, 'cancel'>,
  nowMs: () => number = Date.now,
): Scanner {
  const results = new Map<string, FileCheck>();
  const checkedListeners: ((uri: string, check: FileCheck | undefined) => void)[] = [];
  const seenListeners: ((uri: string, check: FileCheck | undefined) => void)[] = [];
  let waiting: (() => void)[] = [];
  const progressListeners: ((progress: { done: number; total: number; uri: string } | 'ended') => void)[] = [];
  let timer: ReturnType<typeof setTimeout> | undefined;
  let generation = 0;
  const growing = createGrowing(nowMs);
  /** When what changes without a rest is judged as it is; undefined where nothing does. */
  let judgedAtMs: number | undefined;

  const checkOne = async (uri: string, isCurrent: () => boolean, how: 'first' | 'so far' | 'whole'): Promise<void> => {
    // A check that fails says nothing of the file: what was found before stands.
    let check = results.get(uri);
    try {
      check = await (how === 'whole' ? service.check(uri) : service.checkSoFar(uri, how === 'first'));
      // While the session's samples are in memory.
      if (how === 'whole' && check?.kind === 'session' && isCurrent()) await service.weigher.weighAhead(uri);
    } catch (error) {
      if (!isCurrent()) return;
      connection.console.error(`Checking ${uri} failed: ${error instanceof Error ? (error.stack ?? error.message) : String(error)}`);
    }
    // What was found in a file as it was is told also where it has grown since: it may do so for hours.
    if (!isCurrent() && scope.open().includes(uri)) return;
    for (const listener of seenListeners) listener(uri, check);
    if (check?.key === results.get(uri)?.key) return;
    if (check) results.set(uri, check);
    else results.delete(uri);
    tell(uri, check);
  };

  const tell = (uri: string, check: FileCheck | undefined): void => {
    for (const listener of checkedListeners) listener(uri, check);
    const once = waiting;
    waiting = [];
    for (const listener of once) listener();
  };

  const scan = async (): Promise<void> => {
    const mine = ++generation;
    const isCurrent = (): boolean => mine === generation;
    try {
      await scanAll(isCurrent);
    } finally {
      // Also where it failed: else it would be shown as going on.
      if (isCurrent()) for (const listener of progressListeners) listener('ended');
    }
  };

  const scanAll = async (isCurrent: () => boolean): Promise<void> => {
    const startedAt = Date.now();
    // What is open goes first, from what is known already; then everything whole, sessions before the tables they speak of.
    const open = scope.open();
    for (const uri of open) {
      await foreground.quiet();
      if (!isCurrent()) return;
      await checkOne(uri, isCurrent, 'first');
    }
    for (const uri of open.filter((each) => results.get(each)?.isFirst)) {
      await checkOne(uri, isCurrent, 'so far');
      if (!isCurrent()) return;
    }
    const follow = open.filter((uri) => results.get(uri)?.isFollowing);
    judgedAtMs = follow.length > 0 ? (judgedAtMs ?? nowMs() + RESTLESS_MS) : undefined;
    if (judgedAtMs !== undefined && nowMs() >= judgedAtMs) {
      const beganMs = nowMs();
      // What changes meanwhile waits for its turn.
      judgedAtMs = Infinity;
      for (const uri of follow) await checkOne(uri, isCurrent, 'whole');
      judgedAtMs = nowMs() + RESTLESS_MS + leftFor(nowMs() - beganMs);
    } else if (follow.length > 0) await passed(RESTS_MS - QUIET_MS);
    if (!isCurrent()) return;
    const files = new Map<string, FileKind>();
    for (const folder of await foldersAround(open)) {
      if (!isCurrent()) return;
      for (const { uri, kind } of await service.filesBelow(folder)) files.set(uri, kind);
    }
    // Also where no folder holds it, what is open is checked whole.
    for (const uri of open.filter((each) => results.get(each)?.isFollowing && !files.has(each))) files.set(uri, results.get(uri)!.kind);
    const rest = [...files.keys()].sort((a, b) => rank(a) - rank(b));
    let done = 0,
      waitMs = 0;
    /** Takes the files one behind the other, beside others who take from the same. */
    const takeFrom = async (uris: Iterator<string>): Promise<void> => {
      for (let next = uris.next(); !next.done; next = uris.next()) {
        await foreground.quiet();
        if (!isCurrent()) return;
        if (Date.now() - startedAt > SHOWN_AFTER_MS)
          for (const listener of progressListeners) listener({ done, total: rest.length, uri: next.value });
        done++;
        const isOpen = open.includes(next.value),
          stamp = await scope.stamp(next.value),
          growsMs = isOpen ? 0 : growing.waitMs(next.value, stamp),
          beganMs = Date.now();
        waitMs = Math.max(waitMs, growsMs);
        if (growsMs > 0) continue;
        await checkOne(next.value, isCurrent, 'whole');
        if (!isOpen) growing.wasRead(next.value, stamp, Date.now() - beganMs);
      }
    };
    for (const kind of ORDER) {
      // A table speaks of its sessions: it would read those that grow.
      if (kind === 'table' && waitMs > 0) continue;
      const uris = rest.filter((uri) => files.get(uri) === kind).values();
      await Promise.all(Array.from({ length: kind === 'session' ? service.documents.lanes : 1 }, () => takeFrom(uris)));
      if (!isCurrent()) return;
    }

    /** Vehicle files, then sessions, then tables; of each kind the open ones first. */
    function rank(uri: string): number {
      return ORDER.indexOf(files.get(uri)!) * 2 + (open.includes(uri) ? 0 : 1);
    }
    if (!isCurrent()) return;
    for (const gone of [...results.keys()].filter((uri) => !files.has(uri) && !open.includes(uri))) {
      results.delete(gone);
      tell(gone, undefined);
    }
    if (waitMs > 0) timer = setTimeout(run, waitMs);
  };

  /** The open folders, and the vehicles of open files that lie outside of them. */
  const foldersAround = async (open: readonly string[]): Promise<ReadonlySet<string>> => {
    const folders = new Set(scope.folders());
    for (const uri of open) {
      if ([...folders].some((folder) => isBelow(folder, uri))) continue;
      const vehicle = await service.vehicleFolder(uri);
      if (vehicle) folders.add(vehicle.uri);
    }
    return folders;
  };

  const run = (): void => {
    scan().catch((error: unknown) =>
      connection.console.error(`Scanning the folders failed: ${error instanceof Error ? (error.stack ?? error.message) : String(error)}`),
    );
  };

  return {
    results,
    soon() {
      generation++;
      clearTimeout(timer);
      timer = setTimeout(run, QUIET_MS);
    },
    onChecked: (listener) => {
      checkedListeners.push(listener);
    },
    onSeen: (listener) => {
      seenListeners.push(listener);
    },
    onceChecked: (listener) => {
      waiting.push(listener);
    },
    onProgress: (listener) => {
      progressListeners.push(listener);
    },
    tellAll() {
      for (const [uri, check] of results) tell(uri, check);
    },
    cancel() {
      generation++;
      threads?.cancel();
      for (const listener of progressListeners) listener('ended');
    },
    dispose() {
      generation++;
      clearTimeout(timer);
    },
  };
}
