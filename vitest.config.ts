import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: ['tests/**/*.test.ts'],
    exclude: ['tests/bench/**', 'tests/long/**', 'node_modules/**'],
    testTimeout: 30_000,
    maxWorkers: '100%',
  },
});
