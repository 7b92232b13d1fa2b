import Database from 'better-sqlite3';
import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { Agent, request } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'vite';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { answer, uuid } from '../store/records.js';
import { ORDER_PATH } from './test-service.js';

/**
 * Kills the service with SIGKILL in the middle of a burst of feedback, over and over on one database, and holds it to
 * its word: what was answered with 200 is there, and nothing is there twice. (A killed process leaves the operating
 * system's buffers alone; that commits are also waited for until they are on the disk is asserted by the pragmas.)
 */
const ROUNDS = Number(process.env['KOTYLE_KILL_ROUNDS'] ?? 10);
const SEED = Number(process.env['KOTYLE_KILL_SEED'] ?? 20_261_124);
const CLIENTS = 8;
/** The kill comes within this time after the first answer. */
const LATEST_KILL_MS = 100;

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'kotyle-kill-'));
const path = join(folder, 'kotyle.sqlite');
const agent = new Agent({ keepAlive: true, maxSockets: CLIENTS });

interface Running {
  readonly child: ChildProcess;
  readonly url: string;
}

/** The service bundled into one file, two folders below the rules as always: it starts several times as fast. */
async function bundle(): Promise<string> {
  const dist = join(ROOT, 'dist');
  mkdirSync(dist, { recursive: true });
  const outDir = mkdtempSync(join(dist, 'kill-'));
  await build({
    root: ROOT,
    logLevel: 'silent',
    configFile: false,
    ssr: { noExternal: true, external: ['better-sqlite3'] },
    build: { ssr: 'src/cli/serve.ts', outDir },
  });
  return outDir;
}

async function start(bundled: string): Promise<Running> {
  const key = Buffer.alloc(32, 7).toString('base64');
  const child = spawn(process.execPath, [join(bundled, 'serve.js')], {
    env: {
      PATH: process.env['PATH'] ?? '',
      KOTYLE_PORT: '0',
      KOTYLE_STORE: path,
      KOTYLE_PSEUDONYM_KEY: key,
      KOTYLE_CONTENT_KEY: key,
    },
    stdio: ['ignore', 'ignore', 'pipe'],
  });
  let printed = '';
  child.stderr.on('data', (chunk: Buffer) => {
    printed += chunk.toString('utf8');
  });
  for (;;) {
    const url = /"url":"(http:[^"]+)"/.exec(printed)?.[1];
    if (url !== undefined) return { child, url };
    if (child.exitCode !== null) throw new Error(`the service did not start: ${printed}`);
    await pause(5);
  }
}

function pause(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}

/** Sends the answers of some cards in one request; undefined when no answer came back. */
function sendFeedback(url: string, cards: readonly number[]): Promise<number | undefined> {
  const feedback = cards.map((number) => ({
    card: uuid(number),
    outcome: 'overridden',
    outcomeTimestamp: answer(number).at,
    overrideReason: { userComment: `about ${number}` },
  }));
  return new Promise((resolve) => {
    const sending = request(
      `${url}${ORDER_PATH}/feedback`,
      { method: 'POST', agent, headers: { 'Content-Type': 'application/json' } },
      (response) => {
        response.resume();
        response.on('end', () => resolve(response.statusCode));
        response.on('error', () => resolve(undefined));
      },
    );
    sending.on('error', () => resolve(undefined));
    sending.end(JSON.stringify({ feedback }));
  });
}

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

const random = randomFrom(SEED);
const acknowledged = new Set<number>();
/** Sent, and never answered: it may be there or not, until it is sent again. */
const unanswered = new Set<number>();
let next = 0;
let repeated = 0;

/** Sends from several clients at once until none of them is answered any more, then tells nobody is left. */
async function burst(url: string, onFirst: () => void): Promise<void> {
  const client = async (): Promise<void> => {
    for (;;) {
      const cards = Array.from({ length: 1 + Math.floor(random() * 4) }, () => next++);
      for (const number of cards) unanswered.add(number);
      const status = await sendFeedback(url, cards);
      if (status === undefined) return;
      expect(status).toBe(200);
      settle(cards);
      onFirst();
    }
  };
  await Promise.all(Array.from({ length: CLIENTS }, client));
}

function settle(cards: readonly number[]): void {
  for (const number of cards) {
    unanswered.delete(number);
    acknowledged.add(number);
  }
}

/** How often each card stands in the database, read by nothing of ours. */
function kept(): ReadonlyMap<string, number> {
  const database = new Database(path, { readonly: true });
  try {
    expect(database.pragma('integrity_check', { simple: true })).toBe('ok');
    const rows = database.prepare('select card, count(*) as times from feedback group by card').all() as {
      readonly card: string;
      readonly times: number;
    }[];
    return new Map(rows.map(({ card, times }) => [card, times]));
  } finally {
    database.close();
  }
}

/** One life of the service: what was left unanswered is sent again, then a burst, and SIGKILL in the middle of it. */
async function liveAndDie(running: Running): Promise<void> {
  const again = [...unanswered];
  if (again.length > 0) {
    expect(await sendFeedback(running.url, again)).toBe(200);
    settle(again);
    repeated += again.length;
  }
  const gone = once(running.child, 'exit') as Promise<[number | null, string | null]>;
  const delay = random() * LATEST_KILL_MS;
  let killing: NodeJS.Timeout | undefined;
  await burst(running.url, () => {
    killing ??= setTimeout(() => running.child.kill('SIGKILL'), delay);
  });
  expect((await gone)[1]).toBe('SIGKILL');
}

describe('feedback that was answered with 200', () => {
  let bundled = '';
  let running: Running | undefined;
  beforeAll(async () => {
    bundled = await bundle();
    running = await start(bundled);
  });
  afterAll(() => {
    running?.child.kill('SIGKILL');
    agent.destroy();
    rmSync(folder, { recursive: true });
    rmSync(bundled, { recursive: true });
  });

  it(
    `survives ${ROUNDS} kills of the service in the middle of a burst, each item once`,
    async () => {
      for (let round = 1; round <= ROUNDS; round += 1) {
        if (!running) throw new Error('not started');
        const before = acknowledged.size;
        await liveAndDie(running);
        // Dependencies: acknowledged after the commit; integration decisions section 3: stored once.
        const now = kept();
        const lost = [...acknowledged].filter((number) => !now.has(uuid(number)));
        expect(lost, `round ${round}, seed ${SEED}`).toEqual([]);
        expect([...now.values()].every((times) => times === 1)).toBe(true);
        expect(acknowledged.size).toBeGreaterThan(before);
        running = await start(bundled);
      }
      // Sent again after the last kill, everything is there, once.
      const again = [...unanswered];
      if (again.length > 0) expect(await sendFeedback(running?.url ?? '', again)).toBe(200);
      expect(kept().size).toBe(next);
      expect([...kept().values()].every((times) => times === 1)).toBe(true);
      process.stdout.write(
        `${ROUNDS} kills: ${next} items sent, ${repeated} again after a kill; all kept, once\n`,
      );
    },
    30_000 + ROUNDS * 5000,
  );
});
