import js from '@eslint/js';
import prettier from 'eslint-config-prettier';
import svelte from 'eslint-plugin-svelte';
import globals from 'globals';
import ts from 'typescript-eslint';
import svelteConfig from './svelte.config.js';

/** What each part of src may not import; see the map in DEVELOPERS.md. */
const forbid = (files, group, message) => ({
  files,
  rules: { 'no-restricted-imports': ['error', { patterns: [{ group, message }] }] }
});

export default ts.config(
  {
    ignores: [
      'dist/',
      '.svelte-kit/',
      'node_modules/',
      'test-results/',
      'playwright-report/',
      'src/lib/api/schema.d.ts',
      'static/wasm/wasm_exec.js'
    ]
  },
  js.configs.recommended,
  ...ts.configs.recommended,
  ...svelte.configs.recommended,
  prettier,
  ...svelte.configs.prettier,
  { languageOptions: { globals: { ...globals.browser, ...globals.node } } },
  {
    // TypeScript knows better which names exist.
    rules: {
      'no-undef': 'off',
      '@typescript-eslint/no-unused-vars': ['error', { argsIgnorePattern: '^_', varsIgnorePattern: '^_' }],
      'svelte/no-navigation-without-resolve': 'off',
      'svelte/prefer-svelte-reactivity': 'off'
    }
  },
  {
    files: ['**/*.svelte', '**/*.svelte.ts'],
    languageOptions: { parserOptions: { parser: ts.parser, extraFileExtensions: ['.svelte'], svelteConfig } }
  },
  forbid(
    ['src/lib/api/**', 'src/lib/figures/**', 'src/lib/game/**', 'src/lib/ui/**'],
    ['$lib/*', '$features/*', '../**/features/**'],
    'api, figures, game and ui import nothing of ours'
  ),
  forbid(
    ['src/lib/offline/**'],
    ['$lib/state*', '$lib/ui*', '$lib/game*', '$features/*'],
    'offline imports api only'
  ),
  forbid(
    ['src/lib/carry/**'],
    ['$lib/state*', '$lib/ui*', '$lib/game*', '$features/*'],
    'carry imports offline and api only'
  ),
  forbid(
    ['src/lib/state/**'],
    ['$lib/ui*', '$features/*'],
    'state imports offline, api, figures and game only'
  ),
  forbid(
    ['src/lib/result/**', 'src/lib/forecast/**', 'src/lib/pit/**', 'src/lib/change/**', 'src/lib/relieve/**'],
    ['$features/*', '../**/features/**'],
    'what features share imports no feature'
  ),
  forbid(['src/features/**'], ['$features/*', '../../*'], 'a feature never imports another feature'),
  forbid(['src/routes/**'], ['$lib/offline*', '$lib/api*'], 'a route loads and hands to a feature')
);
