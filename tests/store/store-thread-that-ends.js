import process from 'node:process';
import { parentPort } from 'node:worker_threads';

// The thread as it is, but for one question that ends it, as running out of memory would.
parentPort.on('message', ({ ask, given }) => {
  if (ask === 'acknowledgedBy' && given[0] === 'the end') process.exit(7);
});
await import('./store-thread-from-source.js');
