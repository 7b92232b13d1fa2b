import js from '@eslint/js';
import tseslint from 'typescript-eslint';

export default tseslint.config(
  { ignores: ['dist/**', 'coverage/**', 'node_modules/**', 'tests/published/**'] },
  js.configs.recommended,
  ...tseslint.configs.strictTypeChecked,
  {
    languageOptions: {
      parserOptions: {
        projectService: { allowDefaultProject: ['eslint.config.js'] },
        tsconfigRootDir: import.meta.dirname,
      },
    },
    rules: {
      '@typescript-eslint/consistent-type-imports': 'error',
      '@typescript-eslint/restrict-template-expressions': [
        'error',
        { allowNumber: true, allowBoolean: true },
      ],
      '@typescript-eslint/no-confusing-void-expression': ['error', { ignoreArrowShorthand: true }],
      // There are no enums, and looking for them takes as long as anything.
      '@typescript-eslint/no-unsafe-enum-assignment': 'off',
      'no-restricted-syntax': [
        'error',
        { selector: 'TSEnumDeclaration', message: 'A union of literals says the same.' },
        { selector: 'ExportDefaultDeclaration', message: 'Name what you export.' },
        {
          selector: "CallExpression[callee.property.name='localeCompare']",
          message: 'Locale-dependent order; compare code units.',
        },
      ],
    },
  },
  {
    files: ['*.config.ts', 'eslint.config.js'],
    rules: { 'no-restricted-syntax': 'off' },
  },
  { files: ['**/*.js'], ...tseslint.configs.disableTypeChecked },
);
