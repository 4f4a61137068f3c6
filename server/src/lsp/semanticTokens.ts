// Semantic tokens in the protocol's numbers, whole, as a difference, and for the lines that are shown.

import {
  SemanticTokensBuilder,
  type Connection,
  type SemanticTokens,
  type SemanticTokensDeltaParams,
  type SemanticTokensOptions,
  type SemanticTokensParams,
  type SemanticTokensRangeParams,
} from 'vscode-languageserver';
import type { LanguageService } from '../service/languageService.js';
import { TOKEN_KINDS, TOKEN_MODIFIERS, type Token } from '../service/editor/semanticTokens.js';
import type { Answerer } from './answer.js';

export const semanticTokensOptions: SemanticTokensOptions = {
  legend: { tokenTypes: [...TOKEN_KINDS], tokenModifiers: [...TOKEN_MODIFIERS] },
  full: { delta: true },
  range: true,
};

const fileOf = ({ textDocument }: { readonly textDocument: { readonly uri: string } }): string => textDocument.uri;
const NONE: SemanticTokens = { data: [] };

export function serveSemanticTokens({
  connection,
  service,
  answer,
}: {
  readonly connection: Connection;
  readonly service: LanguageService;
  readonly answer: Answerer;
}): void {
  /** What each file was told last: the difference is to that. */
  const told = new Map<string, SemanticTokensBuilder>();
  const builderOf = (uri: string): SemanticTokensBuilder => {
    const builder = told.get(uri) ?? new SemanticTokensBuilder();
    told.delete(uri);
    told.set(uri, builder);
    if (told.size > MOST_TOLD) told.delete(told.keys().next().value!);
    return builder;
  };

  const { semanticTokens } = connection.languages;
  semanticTokens.on(
    answer(
      'Tokens',
      fileOf,
      async ({ textDocument: { uri } }: SemanticTokensParams) => {
        const tokens = await service.semanticTokens(uri);
        const builder = builderOf(uri);
        // Begins anew: what was told before is not to be differed from.
        builder.previousResult('');
        return push(builder, tokens).build();
      },
      NONE,
    ),
  );
  semanticTokens.onDelta(
    answer(
      'Tokens',
      fileOf,
      async ({ textDocument: { uri }, previousResultId }: SemanticTokensDeltaParams) => {
        const tokens = await service.semanticTokens(uri);
        const builder = builderOf(uri);
        builder.previousResult(previousResultId);
        return push(builder, tokens).buildEdits();
      },
      NONE,
    ),
  );
  semanticTokens.onRange(
    answer(
      'Tokens',
      fileOf,
      async ({ textDocument: { uri }, range: { start, end } }: SemanticTokensRangeParams) =>
        push(new SemanticTokensBuilder(), await service.semanticTokens(uri, { first: start.line, last: end.line })).build(),
      NONE,
    ),
  );
}

const MOST_TOLD = 50;

function push(builder: SemanticTokensBuilder, tokens: readonly Token[]): SemanticTokensBuilder {
  for (const { line, character, length, kind, modifier } of tokens) {
    builder.push(line, character, length, TOKEN_KINDS.indexOf(kind), modifier === undefined ? 0 : 1 << TOKEN_MODIFIERS.indexOf(modifier));
  }
  return builder;
}
