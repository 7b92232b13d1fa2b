import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { cpus, tmpdir, totalmem } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { pino } from 'pino';
import { readConfig } from '../../src/server/config.js';
import { startService } from '../../src/server/serve.js';
import type { RunningService } from '../../src/server/serve.js';
import { rulebook } from '../advice/patients.js';
import { EC, ISS } from '../server/auth/signing.js';
import { hostileRequest } from '../server/hostile-requests.js';
import type { HostileRequest } from '../server/hostile-requests.js';
import { newSender, wrongAnswer } from '../server/send-hostile.js';
import type { Sender } from '../server/send-hostile.js';
import { openThreaded } from '../store/threaded.js';

/**
 * Sends hostile requests to four services as they are started, one of them in production, and tells what came back and
 * what it cost in memory:
 *
 *     node --expose-gc --import ./tests/from-source.js tests/long/fuzz.ts [requests, 200000] [seed]
 *
 * Ends with 1 when an answer was a fault of the service, or when memory grew. A fault names seed, place and request.
 */
const COUNT = Number(process.argv[2] ?? 200_000);
const SEED = Number(process.argv[3] ?? 20_261_126);
const AT_ONCE = 4;
/** Drawn together; one of them is found again by its seed. */
const BATCH = 500;
const PUBLIC_URL = 'https://hip.hospital.example';
const SITE = new URL('../../fixtures/sites/north-campus/site.json', import.meta.url).pathname;

const folder = mkdtempSync(join(tmpdir(), 'kotyle-fuzz-'));
const quiet = pino({ level: 'silent' });

function written(name: string, content: unknown): string {
  const path = join(folder, name);
  writeFileSync(path, JSON.stringify(content));
  return path;
}

function started(name: string, environment: Readonly<Record<string, string>>): Promise<RunningService> {
  const store = join(folder, `${name}.sqlite`);
  return startService(
    readConfig({ KOTYLE_PORT: '0', KOTYLE_STORE: store, ...environment }),
    quiet,
    openThreaded,
  );
}

function production(): Readonly<Record<string, string>> {
  const approvals = [{ by: 'nobody', role: 'test', date: '2026-11-20', contentHash: rulebook.hash }];
  return {
    KOTYLE_MODE: 'production',
    KOTYLE_PUBLIC_URL: PUBLIC_URL,
    KOTYLE_TLS_IN_FRONT: 'true',
    KOTYLE_CLIENTS: written('clients.json', { clients: [{ iss: ISS, keys: [EC.jwk], tenants: ['north'] }] }),
    KOTYLE_PSEUDONYM_KEY: Buffer.alloc(32, 1).toString('base64'),
    KOTYLE_CONTENT_KEY: Buffer.alloc(32, 2).toString('base64'),
    KOTYLE_SITE: written('site.json', { id: 'fuzzed', version: '1', approvals }),
    KOTYLE_FHIR_SERVERS: 'none',
  };
}

/** Memory after everything that can be let go of was, in MiB. */
function memory(): { readonly heap: number; readonly resident: number } {
  globalThis.gc?.();
  const { heapUsed, rss } = process.memoryUsage();
  return { heap: heapUsed / 2 ** 20, resident: rss / 2 ** 20 };
}

const services = [
  await started('lenient', {}),
  await started('strict', { KOTYLE_STRICT: 'true', KOTYLE_AUDIT: 'required' }),
  await started('site', { KOTYLE_SITE: SITE, KOTYLE_DISTINCT_IDS: 'true' }),
  await started('production', production()),
];
const senders = services.map(({ url }) => newSender(Number(new URL(url).port)));

/** Tokens mean something only in production, requests of no form everywhere, and the rest where it is read. */
function senderFor({ kind }: HostileRequest, at: number): Sender {
  const open = senders.length - 1;
  const sender = senders[kind === 'token' ? open : at % (kind === 'odd' ? senders.length : open)];
  if (!sender) throw new Error('no service');
  return sender;
}

const seen = new Map<string, number>();
const faults: string[] = [];

async function sendOne(request: HostileRequest, at: number, place: string): Promise<void> {
  const reply = await senderFor(request, at).send(request);
  const name = `${request.kind} ${reply.status}`;
  seen.set(name, (seen.get(name) ?? 0) + 1);
  const wrong = wrongAnswer(request, reply);
  if (wrong !== undefined)
    faults.push(`${wrong} at ${place}: ${JSON.stringify({ ...request, body: request.body.slice(0, 2000) })}`);
}

async function sendBatch(batch: number): Promise<void> {
  const target = { publicUrl: PUBLIC_URL, nowS: Math.floor(Date.now() / 1000) };
  const size = Math.min(BATCH, COUNT - batch * BATCH);
  const requests = fc.sample(hostileRequest(target), { numRuns: size, seed: SEED + batch });
  const next = requests.entries();
  const worker = async (): Promise<void> => {
    for (const [at, request] of next) await sendOne(request, at, `seed ${SEED + batch}, request ${at}`);
  };
  await Promise.all(Array.from({ length: AT_ONCE }, worker));
}

const begun = performance.now();
const memories: (readonly [sent: number, heap: number, resident: number])[] = [];
const batches = Math.ceil(COUNT / BATCH);
for (let batch = 0; batch < batches && faults.length < 20; batch += 1) {
  await sendBatch(batch);
  if ((batch + 1) % Math.max(1, Math.floor(batches / 10)) !== 0) continue;
  const { heap, resident } = memory();
  const sent = (batch + 1) * BATCH;
  memories.push([sent, heap, resident]);
  process.stderr.write(`${sent} sent, heap ${heap.toFixed(1)} MiB, resident ${resident.toFixed(1)} MiB\n`);
}
const seconds = (performance.now() - begun) / 1000;
for (const sender of senders) sender.close();
for (const service of services) await service.stop();
rmSync(folder, { recursive: true });

/** The heap after the first fifth, when every cache has filled, beside the heap at the end. */
const settled = memories[Math.floor(memories.length / 5)]?.[1] ?? 0;
const last = memories.at(-1)?.[1] ?? 0;
const grew = last - settled;
const total = [...seen.values()].reduce((sum, count) => sum + count, 0);
process.stdout.write(
  [
    `${new Date().toISOString().slice(0, 10)}, ${cpus().length} × ${cpus()[0]?.model ?? 'unknown'}, ${Math.round(totalmem() / 2 ** 30)} GiB, Node ${process.version}`,
    `${total} hostile requests, seed ${SEED}, in ${seconds.toFixed(0)} s (${(total / seconds).toFixed(0)} a second)`,
    ...[...seen].sort().map(([name, count]) => `  ${name}: ${count}`),
    `heap: ${memories.map(([sent, heap]) => `${heap.toFixed(1)} MiB after ${sent}`).join(', ')}`,
    `heap from the first fifth to the end: ${grew.toFixed(1)} MiB more${globalThis.gc ? '' : ' (without --expose-gc: means little)'}`,
    `resident at the end: ${(memories.at(-1)?.[2] ?? 0).toFixed(1)} MiB`,
    `faults: ${faults.length}`,
    ...faults,
    '',
  ].join('\n'),
);
/** What a run may keep for good, per hundred thousand requests: far below one byte in a thousand of what was sent. */
const MOST_MIB = 16 * Math.max(1, COUNT / 100_000);
process.exitCode = faults.length > 0 || (globalThis.gc !== undefined && grew > MOST_MIB) ? 1 : 0;
