/**
 * Commits what is waiting, together. Answers with the items that could not be kept and why; all others are durable.
 * Throws when nothing was kept.
 */
export type CommitTogether<Item> = (items: readonly Item[]) => Promise<ReadonlyMap<Item, unknown>>;

export interface GroupCommit<Item> {
  /** Resolves once the item is durable; rejects when it, or its whole group, could not be kept. */
  readonly add: (item: Item) => Promise<void>;
  /** The same for an item somebody waits for: it takes along whatever waits, and waits for no company itself. */
  readonly addUrgent: (item: Item) => Promise<void>;
  /** Takes no more items, and resolves when those waiting are settled. */
  readonly close: () => Promise<void>;
}

/** How long an item waits for company, and how much company it gets. */
export interface GroupLimits {
  readonly longestMs: number;
  readonly most: number;
}

interface Waiting<Item> {
  readonly item: Item;
  readonly resolve: () => void;
  readonly reject: (reason: unknown) => void;
}

/** Waiting for the disk is most of what a small commit costs, so that writes of the same moment share one. */
export function groupCommit<Item>(
  commit: CommitTogether<Item>,
  limits: GroupLimits = { longestMs: 5, most: 20 },
): GroupCommit<Item> {
  const waiting: Waiting<Item>[] = [];
  let timer: NodeJS.Timeout | undefined;
  let working: Promise<void> | undefined;
  let closed = false;

  const push = (item: Item, most: number): Promise<void> => {
    if (closed) return Promise.reject(new Error('expected an open store, found it closed'));
    return new Promise((resolve, reject) => {
      waiting.push({ item, resolve, reject });
      if (waiting.length >= most) void commitWaiting();
      else timer ??= setTimeout(() => void commitWaiting(), limits.longestMs);
    });
  };
  const add = (item: Item): Promise<void> => push(item, limits.most);
  const addUrgent = (item: Item): Promise<void> => push(item, 1);

  const commitWaiting = (): Promise<void> => {
    clearTimeout(timer);
    timer = undefined;
    if (!working && waiting.length > 0) working = work();
    return working ?? Promise.resolve();
  };

  const work = async (): Promise<void> => {
    while (waiting.length > 0) {
      // Between two groups everybody else has a turn; before the first, answers on their way leave.
      await new Promise(setImmediate);
      await settle(commit, waiting.splice(0, limits.most));
    }
    working = undefined;
  };

  const close = async (): Promise<void> => {
    closed = true;
    await commitWaiting();
  };

  return { add, addUrgent, close };
}

/** Settles every promise of one group; never throws. */
async function settle<Item>(commit: CommitTogether<Item>, group: readonly Waiting<Item>[]): Promise<void> {
  try {
    const failures = await commit(group.map(({ item }) => item));
    for (const { item, resolve, reject } of group) {
      if (failures.has(item)) reject(failures.get(item));
      else resolve();
    }
  } catch (error) {
    for (const { reject } of group) reject(error);
  }
}
