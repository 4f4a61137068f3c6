// Files that the server cannot read by itself: it asks the editor, which knows every file system. Server → client, within the open folders
// alone.

export const FILES = {
  /** `FileAsk` → string that changes with the file's bytes, null where there is no such file. */
  stamp: 'leanspot/files/stamp',
  /** `FileAsk` → the file's bytes as `FileBytes`, null where there is none. */
  read: 'leanspot/files/read',
  /**
   * `FileAsk` with a folder → paths of the files below it, relative to it and with `/`; folders that begin with a dot, `node_modules` and
   * links left out.
   */
  list: 'leanspot/files/list',
} as const;

export interface FileAsk {
  readonly uri: string;
}

/** As they are between threads, in base64 through a pipe of text. */
export type FileBytes = Uint8Array | string;
