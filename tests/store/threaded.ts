import { openThreadedStore } from '../../src/store/threaded-store.js';

const ENTRY = new URL('./store-thread-from-source.js', import.meta.url);

/** Opens a store in a thread of its own, which runs from source. */
export const openThreaded: typeof openThreadedStore = (settings, thread) =>
  openThreadedStore(settings, { entry: ENTRY, ...thread });
