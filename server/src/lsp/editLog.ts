// What was edited in long open texts, so that findings can follow their places while somebody types.

import type { TextDocumentContentChangeEvent } from 'vscode-languageserver';
import { TextDocument } from 'vscode-languageserver-textdocument';
import type { Edit } from '../service/followEdits.js';

/** Edits remembered of a text; before them nothing is followed. */
const MOST_EDITS = 1000;

/** Characters of a text. It hands out its own string: nothing is copied, and its lines are not counted for this. */
export const lengthOf = (text: TextDocument): number => text.getText().length;

interface Step { readonly from: number; readonly edits: readonly Edit[] | undefined }

export interface EditLog {
  /** How `TextDocuments` makes and changes its texts. */
  readonly texts: { create(uri: string, languageId: string, version: number, content: string): TextDocument; update(text: TextDocument, changes: TextDocumentContentChangeEvent[], version: number): TextDocument };
  /** The edits since the version that `isFrom` knows; undefined where they are not all remembered, or there are none. */
  since(text: TextDocument, isFrom: (version: number) => boolean): readonly Edit[] | undefined;
}

/** Remembers the edits of texts with at least so many characters. */
export function editLog(leastLength: number): EditLog {
  const steps = new WeakMap<TextDocument, Step[]>();
  return {
    texts: {
      create: (uri, languageId, version, content) => TextDocument.create(uri, languageId, version, content),
      update(text, changes, version) {
        if (lengthOf(text) < leastLength) {
          steps.delete(text);
          return TextDocument.update(text, changes, version);
        }
        const from = text.version;
        const edits: Edit[] = [];
        let isWhole = false;
        for (const change of changes) {
          if ('range' in change) {
            // Places beyond a line or the text are taken for its end, as the text itself does.
            const [start, end] = [change.range.start, change.range.end].map((place) => text.offsetAt(place)).sort((a, b) => a - b);
            edits.push({ range: { start: text.positionAt(start), end: text.positionAt(end) }, text: change.text });
          } else isWhole = true;
          TextDocument.update(text, [change], version);
        }
        steps.set(text, [...steps.get(text) ?? [], { from, edits: isWhole ? undefined : edits }].slice(-MOST_EDITS));
        return changes.length > 0 ? text : TextDocument.update(text, [], version);
      },
    },
    since(text, isFrom) {
      const all = steps.get(text) ?? [];
      const first = all.findIndex(({ from }) => isFrom(from));
      const these = first < 0 ? [] : all.slice(first);
      return these.length > 0 && these.every(({ edits }) => edits) ? these.flatMap(({ edits }) => edits!) : undefined;
    },
  };
}
