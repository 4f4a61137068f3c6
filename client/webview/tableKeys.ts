// What the keys do on a table's cells, written once: the same list is obeyed and shown.

import type { TableWords } from '../../server/src/protocol/tableWords.js';
import { keyName, type KeyPress } from './dom.js';

export type TableAct =
  | { readonly do: 'step'; readonly rows: number; readonly columns: number; readonly grow: boolean }
  | { readonly do: 'show'; readonly shown: number }
  | { readonly do: 'all' | 'open' | 'moments' | 'correct' | 'slice' | 'help' };

/** More than any table has. */
const FAR = 1e6;
const step = (rows: number, columns: number, grow = false): TableAct => ({ do: 'step', rows, columns, grow });

interface Entry {
  readonly shown: string;
  readonly words: keyof TableWords;
  readonly keys: Readonly<Record<string, TableAct>>;
}

/** By the names of `keyName`. */
export const TABLE_KEYS: readonly Entry[] = [
  {
    shown: '← → ↑ ↓',
    words: 'keyMove',
    keys: {
      ArrowLeft: step(0, -1),
      ArrowRight: step(0, 1),
      ArrowUp: step(-1, 0),
      ArrowDown: step(1, 0),
      'Shift+ArrowLeft': step(0, -1, true),
      'Shift+ArrowRight': step(0, 1, true),
      'Shift+ArrowUp': step(-1, 0, true),
      'Shift+ArrowDown': step(1, 0, true),
    },
  },
  {
    shown: 'Home, End',
    words: 'keyRowEnds',
    keys: {
      Home: step(0, -FAR),
      End: step(0, FAR),
      'Shift+Home': step(0, -FAR, true),
      'Shift+End': step(0, FAR, true),
      'Ctrl+Home': step(-FAR, -FAR),
      'Ctrl+End': step(FAR, FAR),
      'Ctrl+Shift+Home': step(-FAR, -FAR, true),
      'Ctrl+Shift+End': step(FAR, FAR, true),
    },
  },
  { shown: 'Ctrl A', words: 'keyAll', keys: { 'Ctrl+a': { do: 'all' } } },
  { shown: 'Enter', words: 'keyOpen', keys: { Enter: { do: 'open' } } },
  { shown: 'M', words: 'keyMoments', keys: { m: { do: 'moments' } } },
  { shown: 'C', words: 'keyCorrect', keys: { c: { do: 'correct' } } },
  { shown: 'S', words: 'keySlice', keys: { s: { do: 'slice' } } },
  {
    shown: '1 2 3 4',
    words: 'keyShown',
    keys: { 1: { do: 'show', shown: 0 }, 2: { do: 'show', shown: 1 }, 3: { do: 'show', shown: 2 }, 4: { do: 'show', shown: 3 } },
  },
  { shown: '?', words: 'keyHelp', keys: { '?': { do: 'help' } } },
];

const BY_KEY: ReadonlyMap<string, TableAct> = new Map(TABLE_KEYS.flatMap(({ keys }) => Object.entries(keys)));

/** What a key press on the grid asks for; undefined for keys that are the editor's. */
export const tableActOf = (event: KeyPress): TableAct | undefined => BY_KEY.get(keyName(event));
