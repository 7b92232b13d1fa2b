import { once } from 'node:events';
import { rmSync } from 'node:fs';
import { Agent } from 'node:http';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { openStore } from '../../src/store/open-store.js';
import { describeDatabases } from '../store/databases.js';
import { answer, TEST_KEY, uuid } from '../store/records.js';
import { bundleService, startBundled, statusOf } from './bundled-service.js';
import type { Running } from './bundled-service.js';
import { ORDER_PATH } from './test-service.js';

/**
 * Kills the service with SIGKILL in the middle of a burst of feedback, over and over on one database, and holds it to
 * its word: what was answered with 200 is there, nothing is there twice, and the chain over it verifies. (A killed
 * process leaves the operating system's buffers alone; that commits are also waited for until they are on the disk is
 * asserted by the pragmas, and by the settings the server is asked for.)
 */
const ROUNDS = Number(process.env['KOTYLE_KILL_ROUNDS'] ?? 5);
const SEED = Number(process.env['KOTYLE_KILL_SEED'] ?? 20_261_124);
const CLIENTS = 8;
/** The kill comes within this time after the first answer. */
const LATEST_KILL_MS = 100;
/** Over a long run the chain is not followed after every kill. */
const MOST_VERIFICATIONS = 20;

let bundled = '';
beforeAll(async () => {
  bundled = await bundleService();
}, 60_000);
afterAll(() => {
  rmSync(bundled, { recursive: true });
});

/** A random number in [0, 1) that follows from the seed (mulberry32). */
function randomFrom(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296;
  };
}

/** What was sent to one service after the other, and what each was answered. */
class Senders {
  readonly acknowledged = new Set<number>();
  /** Sent, and never answered: it may be there or not, until it is sent again. */
  readonly unanswered = new Set<number>();
  readonly random = randomFrom(SEED);
  readonly #agent = new Agent({ keepAlive: true, maxSockets: CLIENTS });
  next = 0;
  repeated = 0;

  /** Sends from several clients at once until none of them is answered any more. */
  async burst(url: string, onFirst: () => void): Promise<void> {
    const client = async (): Promise<void> => {
      for (;;) {
        const cards = Array.from({ length: 1 + Math.floor(this.random() * 4) }, () => this.next++);
        for (const number of cards) this.unanswered.add(number);
        const status = await this.#send(url, cards);
        if (status === undefined) return;
        expect(status).toBe(200);
        this.#settle(cards);
        onFirst();
      }
    };
    await Promise.all(Array.from({ length: CLIENTS }, client));
  }

  async sendAgain(url: string): Promise<void> {
    const again = [...this.unanswered];
    if (again.length === 0) return;
    expect(await this.#send(url, again)).toBe(200);
    this.#settle(again);
    this.repeated += again.length;
  }

  end(): void {
    this.#agent.destroy();
  }

  #settle(cards: readonly number[]): void {
    for (const number of cards) {
      this.unanswered.delete(number);
      this.acknowledged.add(number);
    }
  }

  async #send(url: string, cards: readonly number[]): Promise<number | undefined> {
    const feedback = cards.map((number) => ({
      card: uuid(number),
      outcome: 'overridden',
      outcomeTimestamp: answer(number).at,
      overrideReason: { userComment: `about ${number}` },
    }));
    return await statusOf(`${url}${ORDER_PATH}/feedback`, JSON.stringify({ feedback }), this.#agent);
  }
}

/** One life of the service: what was left unanswered is sent again, then a burst, and SIGKILL in the middle of it. */
async function liveAndDie({ child, url }: Running, senders: Senders): Promise<void> {
  await senders.sendAgain(url);
  const gone = once(child, 'exit') as Promise<[number | null, string | null]>;
  const delay = senders.random() * LATEST_KILL_MS;
  let killing: NodeJS.Timeout | undefined;
  await senders.burst(url, () => {
    killing ??= setTimeout(() => child.kill('SIGKILL'), delay);
  });
  expect((await gone)[1]).toBe('SIGKILL');
}

describeDatabases('feedback that was answered with 200', ({ kind, empty, rows }) => {
  const rounds = kind === 'SQLite' ? ROUNDS : Math.max(2, Math.round(ROUNDS / 4));
  const senders = new Senders();
  let path = '';
  let running: Running | undefined;
  beforeAll(async () => {
    path = await empty();
    running = await startBundled(bundled, path);
  }, 60_000);
  afterAll(() => {
    running?.child.kill('SIGKILL');
    senders.end();
  });

  /** How often each card stands in the database, read by nothing of ours. */
  const kept = async (): Promise<ReadonlyMap<string, number>> => {
    if (kind === 'SQLite')
      expect(await rows(path, 'pragma integrity_check')).toEqual([{ integrity_check: 'ok' }]);
    const found = await rows(path, 'select card, count(*) as times from feedback group by card');
    return new Map(found.map(({ card, times }) => [String(card), Number(times)]));
  };
  const expectUnbroken = async (): Promise<void> => {
    const store = await openStore({ path, contentKey: TEST_KEY });
    // An entry for each answer and one for each comment.
    expect(await store.verify()).toMatchObject({ entries: 2 * (await kept()).size, breaks: [] });
    await store.close();
  };

  it(
    `survives ${rounds} kills of the service in the middle of a burst, each item once, in an unbroken chain`,
    async () => {
      const between = Math.ceil(rounds / MOST_VERIFICATIONS);
      for (let round = 1; round <= rounds; round += 1) {
        if (!running) throw new Error('not started');
        const before = senders.acknowledged.size;
        await liveAndDie(running, senders);
        // Started again without hands.
        running = await startBundled(bundled, path);
        // Dependencies: acknowledged after the commit; integration decisions section 3: stored once.
        const now = await kept();
        const lost = [...senders.acknowledged].filter((number) => !now.has(uuid(number)));
        expect(lost, `round ${round}, seed ${SEED}`).toEqual([]);
        expect([...now.values()].every((times) => times === 1)).toBe(true);
        expect(senders.acknowledged.size).toBeGreaterThan(before);
        if (round % between === 0) await expectUnbroken();
      }
      // Sent again after the last kill, everything is there, once.
      await senders.sendAgain(running?.url ?? '');
      expect((await kept()).size).toBe(senders.next);
      expect([...(await kept()).values()].every((times) => times === 1)).toBe(true);
      await expectUnbroken();
      process.stdout.write(
        `${kind}, ${rounds} kills: ${senders.next} items sent, ${senders.repeated} again after a kill; all kept, once\n`,
      );
    },
    60_000 + rounds * 8000,
  );
});
