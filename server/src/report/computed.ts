// How each thing that was found is computed, in the words of its rule.

import { COMPUTED_HEADING, type FindingCode } from '../findings/finding.js';
import { RULES } from '../findings/registry.js';

export interface Computed {
  readonly code: FindingCode;
  readonly title: string;
  readonly words: string;
}

/** A finding's page, as Markdown; undefined where there is none. */
export type PageOf = (code: FindingCode) => Promise<string | undefined>;

/** In the order of the rules. The packed server's rules leave to their pages what those say (`build.mjs`): there it is read from them. */
export async function computedOf(told: ReadonlySet<FindingCode>, pageOf?: PageOf): Promise<Computed[]> {
  const rules = RULES.filter(({ code }) => told.has(code)),
    words = await Promise.all(
      rules.map(async ({ code, docs }) => (docs.computed as string | undefined) ?? computedOnPage(await pageOf?.(code))),
    );
  return rules.map(({ code, docs: { title } }, at) => ({ code, title, words: words[at] }));
}

/** What a page (`findings/page.ts`) says of it. */
export const computedOnPage = (page = ''): string => page.split(`${COMPUTED_HEADING}\n\n`).at(1)?.split('\n', 1)[0] ?? '';
