import { openStore } from '../../src/store/open-store.js';
import { answer, TEST_KEY } from './records.js';

/** Where to write, and when to begin. */
export interface WriterTask {
  readonly path: string;
  /** Milliseconds since 1970: all begin together. */
  readonly at: number;
}

/**
 * A process of its own: told a file, it opens a store there and keeps 40 answers in it, the same as every other such
 * process, and says what went wrong, or nothing.
 */
process.on('message', ({ path, at }: WriterTask) => {
  while (Date.now() < at);
  void write(path).then(
    () => process.send?.(''),
    (error: unknown) => process.send?.(String(error)),
  );
});
process.send?.('ready');

async function write(path: string): Promise<void> {
  const store = await openStore({ path, contentKey: TEST_KEY });
  await Promise.all(Array.from({ length: 40 }, (_, index) => store.saveFeedback([answer(index)])));
  await store.close();
}
