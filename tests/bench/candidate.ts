import { mkdtempSync, writeFileSync } from 'node:fs';
import { Agent, request } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { packText } from '../../src/rulebook-files/pack-file.js';
import { stricterPack } from '../server/shadow/candidates.js';
import { hookLoad } from './bodies.js';
import type { Load } from './bodies.js';
import { onDisk, startService } from './processes.js';
import type { Running } from './processes.js';

/**
 * What a candidate costs those who wait for an answer: the same calls to two services, one with a candidate that has
 * something else to say to each of them, in short turns of one run, at half of the most calls a second that the one
 * without can answer. Calls leave by the clock, whether or not those before them were answered, and are timed from when
 * they were due.
 */
const TURNS = Number(process.env['KOTYLE_BENCH_ROUNDS'] ?? 20);
const SECONDS = Number(process.env['KOTYLE_BENCH_SECONDS'] ?? 1);
const CONNECTIONS = Number(process.env['KOTYLE_BENCH_CONNECTIONS'] ?? 8);
const PATIENT = process.env['KOTYLE_BENCH_PATIENT'] ?? 'textbook-hip';
const WANTED = 1.05;

const agent = new Agent({ keepAlive: true, maxSockets: 64 });

function send({ origin }: Running, path: string, body: string): Promise<void> {
  return new Promise((resolve, reject) => {
    const headers = { 'content-type': 'application/json', 'content-length': Buffer.byteLength(body) };
    const sending = request(`${origin}${path}`, { method: 'POST', agent, headers }, (response) => {
      response.resume();
      response.on('end', () => {
        if (response.statusCode === 200) resolve();
        else reject(new Error(`answered with ${response.statusCode ?? 'nothing'}`));
      });
    });
    sending.on('error', reject);
    sending.end(body);
  });
}

/** The most calls a second, from as many senders as there are connections. */
async function mostASecond(service: Running, { path, bodies }: Load): Promise<number> {
  const end = performance.now() + SECONDS * 2000;
  let done = 0;
  const sender = async (): Promise<void> => {
    while (performance.now() < end) {
      await send(service, path, bodies[done % bodies.length] ?? '');
      done += 1;
    }
  };
  await Promise.all(Array.from({ length: CONNECTIONS }, sender));
  return done / (SECONDS * 2);
}

/** Milliseconds from when each call of one turn was due to its answer. */
async function turn(service: Running, { path, bodies }: Load, rate: number): Promise<readonly number[]> {
  const start = performance.now();
  return await Promise.all(
    Array.from({ length: Math.max(1, Math.floor(rate * SECONDS)) }, async (_none, index) => {
      const due = start + (1000 * index) / rate;
      await new Promise((resolve) => setTimeout(resolve, due - performance.now()));
      await send(service, path, bodies[index % bodies.length] ?? '');
      return performance.now() - due;
    }),
  );
}

function at(share: number, durations: readonly number[]): number {
  const sorted = [...durations].sort((a, b) => a - b);
  return sorted[Math.ceil(share * sorted.length) - 1] ?? Number.NaN;
}

/** What became of the calls in the shadow, as the service counts it. */
async function shadowCounts({ origin }: Running): Promise<string> {
  const text = await (await fetch(`${origin}/metrics`)).text();
  const lines = text.matchAll(/^kotyle_shadow_total\{event="([^"]+)"\} (\d+)$/gm);
  return [...lines].map(([, event, count]) => `${event} ${count}`).join(', ');
}

async function bench(): Promise<void> {
  const candidate = join(mkdtempSync(join(tmpdir(), 'kotyle-candidate-')), 'candidate.json');
  writeFileSync(candidate, packText(stricterPack));
  const off = await startService({ KOTYLE_STORE: onDisk() });
  const on = await startService({ KOTYLE_STORE: onDisk(), KOTYLE_CANDIDATE: candidate });
  try {
    const load = await hookLoad(PATIENT, 'order-sign');
    await mostASecond(on, load);
    await mostASecond(off, load);
    const most = await mostASecond(off, load);
    const rate = Math.max(1, most / 2);
    const times: Record<'off' | 'on', number[]> = { off: [], on: [] };
    for (let index = 0; index < TURNS; index += 1) {
      const order = index % 2 === 0 ? (['off', 'on'] as const) : (['on', 'off'] as const);
      for (const name of order) times[name].push(...(await turn(name === 'on' ? on : off, load, rate)));
    }
    const told = (name: 'off' | 'on'): string =>
      [0.5, 0.95, 0.99].map((share) => `p${100 * share} ${at(share, times[name]).toFixed(2)} ms`).join(', ');
    const ratio = at(0.99, times.on) / at(0.99, times.off);
    process.stdout.write(
      [
        `${load.about}; ${rate.toFixed(0)} calls a second, half of the most; ${TURNS} turns of ${SECONDS} s each`,
        `without a candidate: ${told('off')}`,
        `with a candidate:    ${told('on')}`,
        `in its shadow: ${await shadowCounts(on)}`,
        `p99 with it ${ratio.toFixed(3)} of p99 without (at most ${WANTED} wanted)\n`,
      ].join('\n'),
    );
    if (ratio > WANTED) process.exitCode = 1;
  } finally {
    off.stop();
    on.stop();
    agent.destroy();
  }
}

await bench();
