import { defineConfig } from 'vitest/config';

/** They intercept all requests of their process. */
const INTERCEPTING = ['tests/server/auth/key-sets.test.ts', 'tests/server/fallback/https.test.ts'];
const APART = ['tests/browser/**/*.test.ts', ...INTERCEPTING];
const NEVER = ['tests/bench/**', 'tests/long/**', 'node_modules/**'];

/** Much is made and soon let go: with room for it, less time goes by in clearing away. */
const execArgv = ['--max-semi-space-size=64'];

export default defineConfig({
  test: {
    maxWorkers: '100%',
    projects: [
      {
        // Nothing keeps state between files, so files of one worker share the modules and the loaded rulebook.
        test: {
          name: 'together',
          include: ['tests/**/*.test.ts'],
          exclude: [...NEVER, ...APART],
          isolate: false,
          testTimeout: 30_000,
          execArgv,
        },
      },
      {
        // Each of these starts from nothing.
        test: {
          name: 'apart',
          include: APART,
          exclude: NEVER,
          testTimeout: 30_000,
          execArgv,
        },
      },
    ],
  },
});
