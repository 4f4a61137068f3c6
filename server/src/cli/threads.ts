// Many or long sessions on other threads: begun once it is known that it pays, and no more of them than do.

import { sessionThreads, threadsBeside, type SessionThreads } from '../disk/sessionThreads.js';
import type { FileServiceOptions } from '../service/fileService.js';
import type { Workspace } from '../service/workspace.js';

/**
 * Bytes of sessions from which a thread takes less time than it saves. Each compiles what it runs for itself: checking soon, weighing for
 * two seconds of processor time before it is fast, in which one that is fast weighs so much (measured; it takes a processor from the others
 * meanwhile).
 */
export const BYTES_A_THREAD = { check: 6 << 20, weigh: 64 << 20 } as const;

export interface LaterThreads {
  readonly options: Pick<FileServiceOptions, 'elsewhere' | 'lanes'>;
  /** Begins them where these sessions are worth two. */
  begin(workspace: Workspace, sessions: readonly string[]): Promise<void>;
}

/** `exceptUri` is in memory here: standard input. */
export function laterThreads(bytesAThread: number, exceptUri?: string): LaterThreads {
  const most = threadsBeside();
  let begun: SessionThreads | undefined;
  return {
    options: { elsewhere: (task) => (task.uri === exceptUri ? undefined : begun?.work(task)), lanes: most },
    async begin(workspace, sessions) {
      if (most < 2 || sessions.length < 2) return;
      let bytes = 0;
      for (const uri of sessions) bytes += (await workspace.open(uri))?.size ?? 0;
      const count = Math.min(most, Math.floor(bytes / bytesAThread));
      if (count > 1) begun = sessionThreads(count);
    },
  };
}
