import autocannon from 'autocannon';
import type { Options, Result } from 'autocannon';
import { mkdtempSync, rmSync } from 'node:fs';
import { cpus, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { readConfig } from '../../src/server/config.js';
import { hookLoad } from '../bench/bodies.js';
import { openLoop } from './open-loop.js';
import { bundleService } from '../server/bundled-service.js';
import { startProcess, statusOf } from '../server/operations/service-process.js';
import type { ServiceProcess } from '../server/operations/service-process.js';

/**
 * What the service does when more is asked of it than it can answer, and over many calls: one process, loopback, full
 * rulebook, signed orders of one hip with one card, every record on disk. Prints its figures; exits with 1 when one is
 * not what it has to be.
 *
 *   KOTYLE_LOAD_SECONDS=20 KOTYLE_LOAD_CALLS=100000 npx tsx tests/long/load.ts
 */
const SECONDS = Number(process.env['KOTYLE_LOAD_SECONDS'] ?? 20);
const CALLS = Number(process.env['KOTYLE_LOAD_CALLS'] ?? 100_000);
const MOST_SECONDS = Number(process.env['KOTYLE_LOAD_MOST_SECONDS'] ?? 1800);
const PATIENT = process.env['KOTYLE_LOAD_PATIENT'] ?? 'steep-cup-large-head';

/** Enough to keep the service busy, fewer than are admitted at once. */
const BUSY_CONNECTIONS = 8;
/** So many that those who wait for an answer do not keep the others from asking. */
const FLOOD_CONNECTIONS = 300;

const P99_ADMITTED_MS = 200;
/** Growth of the heap beyond which something is kept that should not be: 100,000 calls of one kilobyte each. */
const GROWTH_MIB = 64;

const faults: string[] = [];
function expect(holds: boolean, what: string): void {
  if (!holds) faults.push(what);
}

function say(line: string): void {
  process.stdout.write(`${line}\n`);
}

interface Round {
  /** Answers of each status, and how long each took in milliseconds. */
  readonly times: ReadonlyMap<number, readonly number[]>;
  readonly seconds: number;
  readonly failed: number;
}

interface RoundSettings {
  readonly connections: number;
  readonly seconds?: number;
  readonly amount?: number;
}

const load = await hookLoad(PATIENT, 'order-sign');

async function send({ url }: ServiceProcess, settings: RoundSettings): Promise<Round> {
  const { connections, seconds = MOST_SECONDS, amount } = settings;
  const times = new Map<number, number[]>();
  const headers = { 'content-type': 'application/json' };
  const options: Options = {
    url: `${url}${load.path}`,
    connections,
    duration: seconds,
    ...(amount !== undefined && { amount }),
    requests: load.bodies.map((body) => ({ method: 'POST' as const, headers, body })),
  };
  const result = await new Promise<Result>((resolve, reject) => {
    const run = autocannon(options, (error: Error | null, ended) => {
      if (error) reject(error);
      else resolve(ended);
    });
    run.on('response', (_client, status, _bytes, ms) => {
      const taken = times.get(status) ?? [];
      taken.push(ms);
      times.set(status, taken);
    });
  });
  return { times, seconds: result.duration, failed: result.errors };
}

function quantile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))] ?? Number.NaN;
}

const round = (value: number, digits = 0): number => Number(value.toFixed(digits));

/** Rate and latency of the answers of one status. */
function line({ times, seconds }: Round, status: number): string {
  const taken = times.get(status) ?? [];
  const [p50, p99] = [quantile(taken, 0.5), quantile(taken, 0.99)];
  return `${round(taken.length / seconds)}/s with ${status}, p50 ${round(p50)} ms, p99 ${round(p99)} ms, longest ${round(quantile(taken, 1))} ms`;
}

/**
 * Finds out how many calls a service can answer that turns nobody away, then asks at twice that rate of one that does,
 * and looks at what those let in, those turned away and others get.
 */
async function flood(taking: ServiceProcess, service: ServiceProcess): Promise<void> {
  // The first calls pay for compiling.
  await send(service, { connections: 1, seconds: 5 });
  await send(taking, { connections: BUSY_CONNECTIONS, seconds: 5 });
  const most = await send(taking, { connections: BUSY_CONNECTIONS, seconds: SECONDS });
  const rate = (most.times.get(200)?.length ?? 0) / most.seconds;
  say(`- at most, ${BUSY_CONNECTIONS} connections, none turned away: ${line(most, 200)}`);
  const before = await counts(service);
  const sending = openLoop({
    url: `${service.url}${load.path}`,
    bodies: load.bodies,
    rate: rate * 2,
    seconds: SECONDS,
    connections: FLOOD_CONNECTIONS,
  });
  const beside = await besides(service, SECONDS - 2);
  const flooded = await sending;
  const asked = [...flooded.times.values()].reduce((sum, { length }) => sum + length, 0) / flooded.seconds;
  say(
    `- at twice that, at random moments: ${round(asked)}/s asked; ${line(flooded, 200)}; ${line(flooded, 503)}`,
  );
  say(`- feedback meanwhile: ${line(beside, 200)}; other answers than 200: ${beside.failed}`);
  const after = await counts(service);
  const lag = round(after.value('nodejs_eventloop_lag_max_seconds') * 1000);
  const processor =
    (after.value('process_cpu_seconds_total') - before.value('process_cpu_seconds_total')) * 1000;
  say(
    `- processor time for each call answered meanwhile, those turned away included: ${round(processor / (after.calls - before.calls), 1)} ms; longest turn ${lag} ms`,
  );
  expect(flooded.withoutRetryAfter === 0, 'a 503 did not say when to come again');
  const admitted = flooded.times.get(200) ?? [];
  const others = [...flooded.times.keys()].filter((status) => status !== 200 && status !== 503);
  expect(asked > rate * 1.7, 'the flood was no flood');
  expect(
    admitted.length / flooded.seconds > rate * 0.5,
    'less than half of the possible calls were answered',
  );
  expect(
    quantile(admitted, 0.99) < P99_ADMITTED_MS,
    `p99 of admitted calls is not below ${P99_ADMITTED_MS} ms`,
  );
  expect(
    others.length === 0 && flooded.failed === 0,
    `other answers: ${others.join()}; ${flooded.failed} failed`,
  );
  expect(beside.failed === 0, 'feedback was refused');
}

/** Sends feedback, a few a second, while others flood the service with calls. */
async function besides({ url }: ServiceProcess, seconds: number): Promise<Round> {
  const taken: number[] = [];
  let failed = 0;
  const started = performance.now();
  const end = started + seconds * 1000;
  for (let number = 0; performance.now() < end; number += 1) {
    const card = `d1577c69-dfbe-44ad-ba6d-${String(number).padStart(12, '0')}`;
    const item = { card, outcome: 'overridden', outcomeTimestamp: '2026-11-24T10:00:00Z' };
    const sent = performance.now();
    const response = await fetch(`${url}${load.path}/feedback`, {
      method: 'POST',
      headers: { 'Content-Type': 'application/json' },
      body: JSON.stringify({ feedback: [item] }),
    });
    if (response.status === 200) taken.push(performance.now() - sent);
    else failed += 1;
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  return { times: new Map([[200, taken]]), seconds: (performance.now() - started) / 1000, failed };
}

/** What a service tells of itself. */
async function counts({ operationsUrl }: ServiceProcess): Promise<{
  readonly calls: number;
  readonly value: (name: string) => number;
}> {
  const text = await (await fetch(`${operationsUrl}/metrics`)).text();
  const value = (name: string): number => Number(new RegExp(`^${name} (\\S+)$`, 'm').exec(text)?.[1]);
  const calls = [...text.matchAll(/^kotyle_calls_total\{[^}]*\} (\d+)$/gm)];
  return { calls: calls.reduce((sum, [, count]) => sum + Number(count), 0), value };
}

/** Memory at one moment, in MiB, as the service itself tells it. */
interface Memory {
  readonly calls: number;
  readonly heap: number;
  readonly resident: number;
}

async function memory(service: ServiceProcess): Promise<Memory> {
  const counted = await counts(service);
  const MIB = 1024 * 1024;
  return {
    calls: counted.calls,
    heap: counted.value('nodejs_heap_size_used_bytes') / MIB,
    resident: counted.value('process_resident_memory_bytes') / MIB,
  };
}

/** Makes many calls and looks whether memory grows with them, once the first tenth is over. */
async function manyCalls(service: ServiceProcess): Promise<void> {
  const samples: Memory[] = [];
  const watch = setInterval(() => {
    void memory(service).then((sample) => samples.push(sample));
  }, 500);
  const sent = await send(service, { connections: BUSY_CONNECTIONS, amount: CALLS });
  clearInterval(watch);
  const answered = sent.times.get(200)?.length ?? 0;
  const settled = samples.filter(({ calls }) => calls - (samples[0]?.calls ?? 0) > CALLS / 10);
  const early = lowest(settled.slice(0, Math.ceil(settled.length / 3)));
  const late = lowest(settled.slice(-Math.ceil(settled.length / 3)));
  say(`- ${answered} calls: ${line(sent, 200)}`);
  for (const kind of ['heap', 'resident'] as const)
    say(
      `- ${kind}: ${round(early[kind])} MiB at least in the first third, ${round(late[kind])} MiB in the last; slope ${round(slope(settled, kind) * 10_000, 2)} MiB for 10,000 calls`,
    );
  expect(answered === CALLS, `${answered} of ${CALLS} calls were answered with 200`);
  expect(late.heap - early.heap < GROWTH_MIB, 'the heap grows');
  expect(late.resident - early.resident < GROWTH_MIB * 2, 'resident memory grows');
}

function lowest(samples: readonly Memory[]): { readonly heap: number; readonly resident: number } {
  return {
    heap: Math.min(...samples.map(({ heap }) => heap)),
    resident: Math.min(...samples.map(({ resident }) => resident)),
  };
}

/** Of the straight line through the samples, by least squares: MiB for each call. */
function slope(samples: readonly Memory[], kind: 'heap' | 'resident'): number {
  const mean = (values: readonly number[]): number =>
    values.reduce((sum, value) => sum + value, 0) / values.length;
  const x = mean(samples.map(({ calls }) => calls));
  const y = mean(samples.map((sample) => sample[kind]));
  const over = samples.reduce((sum, sample) => sum + (sample.calls - x) * (sample[kind] - y), 0);
  return over / samples.reduce((sum, { calls }) => sum + (calls - x) ** 2, 0);
}

const folder = mkdtempSync(join(tmpdir(), 'kotyle-load-'));
const bundled = await bundleService();
const start = (name: string, busyMs: number): Promise<ServiceProcess> =>
  startProcess(bundled, {
    KOTYLE_STORE: join(folder, `${name}.sqlite`),
    KOTYLE_BUSY_MS: String(busyMs),
  });
const taking = await start('taking', 60_000);
const guarded = await start('guarded', readConfig({}).busyMs);
try {
  const [cpu] = cpus();
  say(
    `${new Date().toISOString().slice(0, 10)}, ${cpus().length} × ${cpu?.model ?? 'unknown'}, Node ${process.version}, load ${round(loadavg()[0] ?? 0, 1)} before the start`,
  );
  say(`${load.about}\n`);
  await flood(taking, guarded);
  if (CALLS > 0) await manyCalls(taking);
  for (const service of [taking, guarded])
    expect((await statusOf(`${service.operationsUrl}/ready`)) === 200, 'a service is not ready afterwards');
} finally {
  for (const service of [taking, guarded]) {
    service.child.kill('SIGTERM');
    expect((await service.ended) === 0, 'a service did not end well');
  }
  rmSync(folder, { recursive: true });
  rmSync(bundled, { recursive: true });
}
for (const fault of faults) say(`NOT SO: ${fault}`);
process.exit(faults.length === 0 ? 0 : 1);
