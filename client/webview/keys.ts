// What the keys do on the lanes, written once: the same list is obeyed and shown.

import type { TraceWords } from '../../server/src/protocol/traceWords.js';
import { keyName, type KeyPress } from './dom.js';

export type Act =
  | { readonly do: 'cursor'; readonly by: number }
  | { readonly do: 'sample'; readonly by: -1 | 1 }
  | { readonly do: 'zoom'; readonly factor: number }
  | { readonly do: 'pan'; readonly by: number }
  | { readonly do: 'end'; readonly at: 'from' | 'to' }
  | { readonly do: 'finding' | 'pull' | 'lane' | 'laneMove'; readonly by: -1 | 1 }
  | { readonly do: 'whole' | 'mark' | 'switch' | 'row' | 'cell' | 'laneJoin' | 'laneRemove' | 'fit' | 'help' };

/** Share of the span that an arrow key moves the cursor by. */
const STEP = 1 / 200;

interface Entry {
  readonly shown: string;
  readonly words: keyof TraceWords;
  readonly keys: Readonly<Record<string, Act>>;
}

/** By `event.key`, `Shift+` and `Alt+` before it where they are held and the key is no letter or sign. */
export const KEYS: readonly Entry[] = [
  {
    shown: '← →',
    words: 'keyMove',
    keys: {
      ArrowLeft: { do: 'cursor', by: -STEP },
      ArrowRight: { do: 'cursor', by: STEP },
      'Shift+ArrowLeft': { do: 'cursor', by: -10 * STEP },
      'Shift+ArrowRight': { do: 'cursor', by: 10 * STEP },
    },
  },
  { shown: ', .', words: 'keySample', keys: { ',': { do: 'sample', by: -1 }, '.': { do: 'sample', by: 1 } } },
  {
    shown: '+ −',
    words: 'keyZoom',
    keys: { '+': { do: 'zoom', factor: 0.5 }, '=': { do: 'zoom', factor: 0.5 }, '-': { do: 'zoom', factor: 2 } },
  },
  { shown: 'Page Up, Page Down', words: 'keyPan', keys: { PageUp: { do: 'pan', by: -0.8 }, PageDown: { do: 'pan', by: 0.8 } } },
  { shown: 'Home, End', words: 'keyEnds', keys: { Home: { do: 'end', at: 'from' }, End: { do: 'end', at: 'to' } } },
  { shown: '0', words: 'keyWhole', keys: { 0: { do: 'whole' } } },
  { shown: 'M', words: 'keyMark', keys: { m: { do: 'mark' } } },
  { shown: 'X', words: 'keySwitch', keys: { x: { do: 'switch' } } },
  { shown: 'B, N', words: 'keyFinding', keys: { b: { do: 'finding', by: -1 }, n: { do: 'finding', by: 1 } } },
  { shown: '[ ]', words: 'keyPull', keys: { '[': { do: 'pull', by: -1 }, ']': { do: 'pull', by: 1 } } },
  { shown: 'Enter', words: 'keyRow', keys: { Enter: { do: 'row' } } },
  { shown: 'C', words: 'keyCell', keys: { c: { do: 'cell' } } },
  { shown: '↑ ↓', words: 'keyLane', keys: { ArrowUp: { do: 'lane', by: -1 }, ArrowDown: { do: 'lane', by: 1 } } },
  {
    shown: 'Alt ↑, Alt ↓',
    words: 'keyLaneMove',
    keys: { 'Alt+ArrowUp': { do: 'laneMove', by: -1 }, 'Alt+ArrowDown': { do: 'laneMove', by: 1 } },
  },
  { shown: 'J', words: 'keyLaneJoin', keys: { j: { do: 'laneJoin' } } },
  { shown: 'Delete', words: 'keyLaneRemove', keys: { Delete: { do: 'laneRemove' } } },
  { shown: 'F', words: 'keyFit', keys: { f: { do: 'fit' } } },
  { shown: '?', words: 'keyHelp', keys: { '?': { do: 'help' } } },
];

const BY_KEY: ReadonlyMap<string, Act> = new Map(KEYS.flatMap(({ keys }) => Object.entries(keys)));

/** What a key press asks for; undefined for keys that are the editor's. */
export function actOf(event: KeyPress): Act | undefined {
  return event.ctrlKey || event.metaKey ? undefined : BY_KEY.get(keyName(event));
}
