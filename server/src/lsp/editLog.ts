// What was edited in long open texts, so that findings can follow their places while somebody types.

import type { TextDocumentContentChangeEvent } from 'vscode-languageserver';
import { TextDocument } from 'vscode-languageserver-textdocument';
import type { Edit } from '../service/followEdits.js';
import { LongText, type ArrivedText, type OpenText } from './longText.js';

/** Edits remembered of a text; before them nothing is followed. */
const MOST_EDITS = 1000;

/**
 * Characters of a text, or bytes of one as it came. A short one hands out its own string: nothing is copied, and its lines are not counted
 * for this.
 */
export const lengthOf = (text: OpenText): number => (text instanceof LongText ? text.size : text.getText().length);

const updated = (text: OpenText, changes: TextDocumentContentChangeEvent[], version: number): OpenText =>
  text instanceof LongText ? text.update(changes, version) : TextDocument.update(text as TextDocument, changes, version);

interface Step {
  readonly from: number;
  readonly edits: readonly Edit[] | undefined;
}

export interface EditLog {
  /** How `TextDocuments` makes and changes its texts. */
  readonly texts: {
    create(uri: string, languageId: string, version: number, content: string | ArrivedText): OpenText;
    update(text: OpenText, changes: TextDocumentContentChangeEvent[], version: number): OpenText;
  };
  /** The edits since the version that `isFrom` knows; undefined where they are not all remembered, or there are none. */
  since(text: OpenText, isFrom: (version: number) => boolean): readonly Edit[] | undefined;
}

/** Remembers the edits of texts with at least so many characters. */
export function editLog(leastLength: number): EditLog {
  const steps = new WeakMap<OpenText, Step[]>();
  return {
    texts: {
      create: (uri, languageId, version, content) =>
        (typeof content === 'string' ? content : content.bytes).length >= leastLength
          ? new LongText(uri, languageId, version, content)
          : TextDocument.create(uri, languageId, version, typeof content === 'string' ? content : content.text()),
      update(text, changes, version) {
        if (lengthOf(text) < leastLength) {
          steps.delete(text);
          return updated(text, changes, version);
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
          updated(text, [change], version);
        }
        steps.set(text, [...(steps.get(text) ?? []), { from, edits: isWhole ? undefined : edits }].slice(-MOST_EDITS));
        return changes.length > 0 ? text : updated(text, [], version);
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
