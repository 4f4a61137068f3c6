// Many or long sessions on other threads: begun once it is known that it pays.

import { sessionThreads, type SessionThreads } from '../disk/sessionThreads.js';
import type { FileServiceOptions } from '../service/fileService.js';
import type { Workspace } from '../service/workspace.js';

/** Below this a thread takes longer to start than it saves: about a quarter of a second of work. */
const LEAST_BYTES = 12 << 20;

export interface LaterThreads {
  readonly options: Pick<FileServiceOptions, 'elsewhere' | 'lanes'>;
  /** Begins them where these sessions are worth it. */
  begin(workspace: Workspace, sessions: readonly string[]): Promise<void>;
}

/** `exceptUri` is in memory here: standard input. */
export function laterThreads(exceptUri?: string): LaterThreads {
  const threads = sessionThreads();
  let begun: SessionThreads | undefined;
  return {
    options: { elsewhere: (task) => (task.uri === exceptUri ? undefined : begun?.work(task)), lanes: threads.count },
    async begin(workspace, sessions) {
      if (threads.count < 2 || sessions.length < 2) return;
      let bytes = 0;
      for (const uri of sessions) bytes += (await workspace.open(uri))?.size ?? 0;
      if (bytes >= LEAST_BYTES) begun = threads;
    },
  };
}
