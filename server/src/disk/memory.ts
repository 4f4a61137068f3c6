// One file in memory laid over a workspace: standard input, checked as if it lay in the working folder.

import { bytesSource } from '../formats/source.js';
import type { Workspace } from '../service/workspace.js';

export function withMemory(workspace: Workspace, uri: string, bytes: Uint8Array): Workspace {
  return {
    ...workspace,
    open: async (other) => (other === uri ? bytesSource(bytes) : workspace.open(other)),
    stamp: async (other) => (other === uri ? 'memory' : workspace.stamp(other)),
  };
}
