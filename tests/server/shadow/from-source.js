import { register } from 'tsx/esm/api';

// A thread of node starts without the loader that reads TypeScript; tests run from source.
register();
await import('../../../src/server/shadow/candidate-worker.ts');
