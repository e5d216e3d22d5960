// SPDX-License-Identifier: MIT
// The linter's rules for the scripts of pages and tests; prettier settles how they look. Run from
// the top of the tree: `make lint-web`.

import js from '@eslint/js';
import globals from 'globals';

const RULES = {
  'array-callback-return': 'error',
  'default-case-last': 'error',
  eqeqeq: 'error',
  'max-len': ['error', { code: 140 }],
  'no-implicit-globals': 'error',
  'no-lone-blocks': 'error',
  'no-promise-executor-return': 'error',
  'no-self-compare': 'error',
  'no-shadow': ['error', { allow: ['before', 'after'] }],
  'no-template-curly-in-string': 'error',
  'no-throw-literal': 'error',
  'no-unused-expressions': ['error', { allowTernary: true }],
  'no-unused-vars': ['error', { args: 'after-used' }],
  'no-use-before-define': ['error', { functions: false, variables: false, classes: false }],
  'no-useless-return': 'error',
  'no-var': 'error',
  'object-shorthand': 'error',
  'prefer-const': ['error', { destructuring: 'all' }],
};

export default [
  { ignores: ['**/node_modules/', 'build/'] },
  js.configs.recommended,
  { linterOptions: { reportUnusedDisableDirectives: 'error' }, rules: RULES },
  {
    files: ['web/**/*.js'],
    languageOptions: { globals: globals.browser },
    rules: {
      'max-lines-per-function': ['error', { max: 80, skipBlankLines: true, skipComments: true }],
    },
  },
  {
    files: ['web/board/service-worker.js', 'web/desk/service-worker.js'],
    languageOptions: { globals: globals.serviceworker },
  },
  {
    files: ['tests/**/*.mjs'],
    // What a test evaluates in a page runs there.
    languageOptions: { globals: { ...globals.node, ...globals.browser } },
  },
];
