// What every view's talk with the server shares: its words in the editor's language, and failures in a line.

import { l10n } from 'vscode';

/** The protocol's codes for a question that an edit or a newer question has overtaken: the next answer makes up for it. */
const OVERTAKEN: ReadonlySet<number> = new Set([-32800, -32801, -32802]);

export const isOvertaken = (error: unknown): boolean => OVERTAKEN.has((error as { code?: number }).code ?? 0);

/** Empty where a later answer makes up for it. */
export const failureWords = (error: unknown): string =>
  (isOvertaken(error) ? '' : l10n.t('The server did not answer: {0}', error instanceof Error ? error.message : String(error)));

/** A view's words in the editor's language. */
export const localised = <Words extends Readonly<Record<string, string>>>(english: Words): { readonly [Key in keyof Words]: string } =>
  Object.fromEntries(Object.entries(english).map(([key, text]) => [key, l10n.t(text)])) as { [Key in keyof Words]: string };
