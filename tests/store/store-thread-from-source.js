import { register } from 'tsx/esm/api';

// A thread of node starts without the loader that reads TypeScript; tests run from source.
register();
await import('../../src/store/store-thread.ts');
