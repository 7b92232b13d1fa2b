import { defineConfig } from 'vitest/config';

const APART = ['tests/server/**', 'tests/store/**', 'tests/browser/**', 'tests/cli/**'];
const NEVER = ['tests/bench/**', 'tests/long/**', 'node_modules/**'];

export default defineConfig({
  test: {
    maxWorkers: '100%',
    projects: [
      {
        // What is pure keeps no state between files, so files of one worker share the modules and the loaded rulebook.
        test: {
          name: 'pure',
          include: ['tests/**/*.test.ts'],
          exclude: [...NEVER, ...APART],
          isolate: false,
          testTimeout: 30_000,
        },
      },
      {
        // Servers, databases, processes and a browser each start from nothing.
        test: {
          name: 'apart',
          include: APART.map((folder) => folder.replace('/**', '/**/*.test.ts')),
          exclude: NEVER,
          testTimeout: 30_000,
        },
      },
    ],
  },
});
