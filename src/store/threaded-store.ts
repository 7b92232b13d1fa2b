import { Worker } from 'node:worker_threads';
import type { StoreSettings } from './open-store.js';
import { errorFrom } from './store-message.js';
import type { FromStore, ThreadData, ToStore } from './store-message.js';
import type { ServiceStore } from './store.js';

/** How the thread of a store is started. */
export interface StoreThread {
  readonly entry: URL;
  /** Pause before a thread that ended by itself is started anew. */
  readonly pauseMs: number;
  /** Told that a thread ended by itself, and why; never what it was working on. */
  readonly onEnded?: (why: string) => void;
}

const PAUSE_MS = 1000;

/**
 * Opens a store in a thread of its own, so that nobody's answer waits while records are packed, sealed and written to the
 * disk. Throws what `openStore` would. A thread that ends by itself fails what it was asked, and a new one opens the
 * store again, under a new name of its chain: what was durable is there, and nothing else was promised.
 */
export async function openThreadedStore(
  { warn, ...settings }: StoreSettings,
  thread: Partial<StoreThread> = {},
): Promise<ServiceStore> {
  const entry = thread.entry ?? new URL(import.meta.resolve('./store-thread.js'));
  const data = { ...settings, isWarned: warn !== undefined };
  const store = new ThreadedStore(data, warn, { pauseMs: PAUSE_MS, ...thread, entry });
  await store.open();
  return store;
}

interface Asked {
  readonly resolve: (value: unknown) => void;
  readonly reject: (error: Error) => void;
}

/** A question without its number. */
type Question = ToStore extends infer Message
  ? Message extends ToStore
    ? Omit<Message, 'id'>
    : never
  : never;

class ThreadedStore implements ServiceStore {
  readonly #data: ThreadData;
  readonly #warn: StoreSettings['warn'];
  readonly #thread: StoreThread;
  readonly #asked = new Map<number, Asked>();
  #worker: Worker | undefined;
  #last = 0;
  #isClosed = false;
  #timer: NodeJS.Timeout | undefined;

  constructor(data: ThreadData, warn: StoreSettings['warn'], thread: StoreThread) {
    this.#data = data;
    this.#warn = warn;
    this.#thread = thread;
  }

  /** Resolves when the store is open, in a thread that is watched from then on. */
  async open(): Promise<void> {
    const worker = new Worker(this.#thread.entry, { workerData: this.#data });
    let why: string | undefined;
    worker.on('error', (error: NodeJS.ErrnoException) => {
      why ??= error.code ?? error.name;
    });
    await new Promise<void>((resolve, reject) => {
      worker.on('message', (message: FromStore) => {
        if (message.kind === 'opened') resolve();
        else if (message.kind === 'refused') reject(errorFrom(message.failure));
        else this.#said(message);
      });
      worker.on('exit', () => reject(new Error(`the thread of the store ended: ${why ?? 'by itself'}`)));
    });
    this.#worker = worker;
    worker.on('exit', () => this.#ended(why ?? 'by itself'));
  }

  saveDecision: ServiceStore['saveDecision'] = async (record, content) => {
    const { call, cards, sent } = content ?? {};
    const texts = {
      record: JSON.stringify(record),
      ...(call && {
        content: { call: JSON.stringify(call), cards: JSON.stringify(cards), ...(sent && { sent }) },
      }),
    };
    // Not awaited here, where the record would be held until the disk has it.
    return this.#ask({ ask: 'saveDecision', texts }) as Promise<void>;
  };

  saveFeedback: ServiceStore['saveFeedback'] = async (...given) => {
    await this.#ask({ ask: 'saveFeedback', given });
  };

  saveDifference: ServiceStore['saveDifference'] = async (...given) => {
    await this.#ask({ ask: 'saveDifference', given });
  };

  acknowledgedBy: ServiceStore['acknowledgedBy'] = async (...given) =>
    (await this.#ask({ ask: 'acknowledgedBy', given })) as readonly string[];

  rulesOfCards: ServiceStore['rulesOfCards'] = async (...given) =>
    (await this.#ask({ ask: 'rulesOfCards', given })) as ReadonlyMap<string, string>;

  rememberToken: ServiceStore['rememberToken'] = async (...given) =>
    (await this.#ask({ ask: 'rememberToken', given })) as boolean;

  prune: ServiceStore['prune'] = async (...given) =>
    (await this.#ask({ ask: 'prune', given })) as Awaited<ReturnType<ServiceStore['prune']>>;

  ping: ServiceStore['ping'] = async () => {
    await this.#ask({ ask: 'ping', given: [] });
  };

  close: ServiceStore['close'] = async () => {
    if (this.#isClosed) return;
    this.#isClosed = true;
    clearTimeout(this.#timer);
    const worker = this.#worker;
    if (!worker) return;
    try {
      await this.#ask({ ask: 'close', given: [] });
    } finally {
      await worker.terminate();
    }
  };

  /** Holds nothing of the question while it waits for the answer. */
  #ask(question: Question): Promise<unknown> {
    const worker = this.#worker;
    if (!worker)
      return Promise.reject(new Error('expected a store that is open, found it between two threads'));
    const id = (this.#last += 1);
    worker.postMessage({ id, ...question });
    return new Promise((resolve, reject) => {
      this.#asked.set(id, { resolve, reject });
    });
  }

  #said(message: Exclude<FromStore, { kind: 'opened' | 'refused' }>): void {
    if (message.kind === 'warned') {
      this.#warn?.(message.faults);
      return;
    }
    const asked = this.#asked.get(message.id);
    this.#asked.delete(message.id);
    if (message.kind === 'done') asked?.resolve(message.value);
    else asked?.reject(errorFrom(message.failure));
  }

  #ended(why: string): void {
    this.#worker = undefined;
    const left = [...this.#asked.values()];
    this.#asked.clear();
    for (const { reject } of left) reject(new Error(`the thread of the store ended: ${why}`));
    if (this.#isClosed) return;
    this.#thread.onEnded?.(why);
    this.#again();
  }

  /** Opens the store anew until it is open: what is asked in between fails. */
  #again(): void {
    this.#timer = setTimeout(() => {
      this.open().then(
        () => {
          // Closed while it was opening: nobody is left to close this one.
          if (this.#isClosed) void this.#worker?.terminate();
        },
        (error: unknown) => {
          this.#thread.onEnded?.(error instanceof Error ? error.name : 'unknown');
          if (!this.#isClosed) this.#again();
        },
      );
    }, this.#thread.pauseMs);
  }
}
