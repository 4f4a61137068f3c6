// Lint rules: the recommended sets, and nothing of taste beyond them.
import js from '@eslint/js';
import tseslint from 'typescript-eslint';

export default tseslint.config(
  { ignores: ['dist/', '.build/', '.vscode-test/', 'node_modules/', 'test/editor/screenshots/', 'server/kernel/plainRows.ts'] },
  js.configs.recommended,
  ...tseslint.configs.recommended,
  {
    rules: {
      '@typescript-eslint/no-unused-vars': ['error', { argsIgnorePattern: '^_', varsIgnorePattern: '^_' }],
      '@typescript-eslint/consistent-type-imports': 'error',
    },
  },
  {
    files: ['**/*.mjs', '**/*.js', '**/*.cjs'],
    languageOptions: { globals: { module: 'readonly', process: 'readonly', console: 'readonly', URL: 'readonly' } },
  },
);
