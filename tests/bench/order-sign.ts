import autocannon from 'autocannon';
import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { answerFor, inputFor, testPatient } from '../advice/patients.js';

/**
 * Throughput of an order-sign call with a 30-resource body beside an Express endpoint that parses and echoes the same
 * body: both as processes of their own, in turn, in one run, so that the machine's speed cancels out.
 */
const ROUNDS = Number(process.env['KOTYLE_BENCH_ROUNDS'] ?? 5);
const SECONDS = Number(process.env['KOTYLE_BENCH_SECONDS'] ?? 4);
const CONNECTIONS = Number(process.env['KOTYLE_BENCH_CONNECTIONS'] ?? 8);
const RESOURCES = 30;
const PATIENT = process.env['KOTYLE_BENCH_PATIENT'] ?? 'steep-cup-large-head';

interface Round {
  readonly rate: number;
  readonly p50: number;
  readonly p99: number;
}

interface Running {
  readonly port: number;
  readonly child: ChildProcess;
}

/** The service as `npm start` runs it, from dist, without log lines. */
async function startService(): Promise<Running> {
  const port = await freePort();
  const path = fileURLToPath(new URL('../../dist/cli/serve.js', import.meta.url));
  const KOTYLE_STORE = join(mkdtempSync(join(tmpdir(), 'kotyle-bench-')), 'kotyle.sqlite');
  const env = { ...process.env, KOTYLE_PORT: String(port), KOTYLE_LOG_LEVEL: 'silent', KOTYLE_STORE };
  const child = spawn(process.execPath, [path], { stdio: 'inherit', env });
  for (let tries = 0; tries < 100; tries += 1) {
    const healthy = await fetch(`http://127.0.0.1:${port}/health`).then(
      ({ ok }) => ok,
      () => false,
    );
    if (healthy) return { port, child };
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  throw new Error('the service did not start');
}

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const address = server.address();
  server.close();
  return typeof address === 'object' && address ? address.port : 0;
}

async function startEcho(): Promise<Running> {
  const path = fileURLToPath(new URL('./echo-server.ts', import.meta.url));
  const child = spawn(process.execPath, ['--import', 'tsx', path], { stdio: ['ignore', 'pipe', 'inherit'] });
  const [chunk] = (await once(child.stdout, 'data')) as [Buffer];
  return { port: Number(chunk.toString().trim()), child };
}

/** The patient's call, filled up with ordinary resources to thirty. */
function body(): { readonly text: string; readonly resources: number } {
  const input = inputFor(testPatient(PATIENT).bundle, 'order-sign');
  if (!input) throw new Error(`${PATIENT} has no order`);
  const conditions = input.prefetch['conditions'] as { readonly entry: readonly unknown[] };
  const write = (others: number): string => {
    const entry = [
      ...conditions.entry,
      ...Array.from({ length: others }, (_unused, index) => other(index, input.patientId)),
    ];
    const prefetch = { ...input.prefetch, conditions: { ...conditions, entry } };
    return JSON.stringify({
      hook: 'order-sign',
      hookInstance: input.hookInstance,
      context: input.context,
      prefetch,
    });
  };
  const text = write(RESOURCES - resourcesIn(write(0)));
  return { text, resources: resourcesIn(text) };
}

function resourcesIn(text: string): number {
  const count = (part: string): number => text.split(part).length - 1;
  return count('"resourceType":') - count('"resourceType":"Bundle"');
}

/** A problem-list entry that has nothing to do with a hip, with what records commonly send along: meta, narrative. */
function other(index: number, patientId: string): object {
  const code = `J${10 + index}.1`;
  const status = (system: string, value: string): object => ({
    coding: [{ system: `http://terminology.hl7.org/CodeSystem/${system}`, code: value, display: value }],
    text: value,
  });
  const resource = {
    resourceType: 'Condition',
    id: `other-${index}`,
    meta: { versionId: '3', lastUpdated: '2026-05-01T08:00:00Z', source: 'urn:example:record' },
    text: {
      status: 'generated',
      div: `<div xmlns="http://www.w3.org/1999/xhtml"><p><b>Condition</b></p><p>code: ${code}, clinical status: active, onset: 2014-05-01</p></div>`,
    },
    identifier: [{ system: 'urn:example:problem', value: `problem-${index}` }],
    clinicalStatus: status('condition-clinical', 'active'),
    verificationStatus: status('condition-ver-status', 'confirmed'),
    category: [status('condition-category', 'problem-list-item')],
    code: {
      coding: [{ system: 'http://hl7.org/fhir/sid/icd-10-cm', code, display: 'something else' }],
      text: 'something else',
    },
    subject: { reference: `Patient/${patientId}`, display: 'the patient' },
    encounter: { reference: 'Encounter/visit-of-long-ago' },
    onsetDateTime: '2014-05-01',
    recordedDate: '2014-05-02',
    recorder: { reference: 'PractitionerRole/recorder', display: 'a recorder' },
  };
  return { fullUrl: `https://record.example/fhir/Condition/other-${index}`, resource };
}

async function round(port: number, path: string, text: string): Promise<Round> {
  const result = await autocannon({
    url: `http://127.0.0.1:${port}${path}`,
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: text,
    connections: CONNECTIONS,
    duration: SECONDS,
  });
  if (result.non2xx > 0 || result.errors > 0)
    throw new Error(`${path}: ${result.non2xx} refused, ${result.errors} failed`);
  return { rate: result.requests.average, p50: result.latency.p50, p99: result.latency.p99 };
}

function median(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)] ?? Number.NaN;
}

async function bench(): Promise<void> {
  const { text, resources } = body();
  const cards = (await answerFor(testPatient(PATIENT).bundle, 'order-sign')).cards.length;
  const [service, echo] = [await startService(), await startEcho()];
  const servicePath = '/cds-services/hip-stability-order';
  const pairs: { readonly ours: Round; readonly echo: Round }[] = [];
  try {
    await round(service.port, servicePath, text);
    await round(echo.port, '/echo', text);
    for (let index = 0; index < ROUNDS; index += 1) {
      pairs.push({
        ours: await round(service.port, servicePath, text),
        echo: await round(echo.port, '/echo', text),
      });
    }
  } finally {
    service.child.kill();
    echo.child.kill();
  }
  const of = (read: (pair: (typeof pairs)[number]) => number): number => median(pairs.map(read));
  const ratio = of(({ ours, echo: base }) => ours.rate / base.rate);
  process.stdout.write(
    [
      `order-sign of ${PATIENT}, ${resources} resources, ${Math.round(text.length / 1024)} KiB, ${cards} cards; ${CONNECTIONS} connections, ${ROUNDS} rounds of ${SECONDS} s, medians`,
      `order-sign  ${of(({ ours }) => ours.rate).toFixed(0)} calls/s  p50 ${of(({ ours }) => ours.p50)} ms  p99 ${of(({ ours }) => ours.p99)} ms`,
      `echo        ${of(({ echo: base }) => base.rate).toFixed(0)} calls/s  p50 ${of(({ echo: base }) => base.p50)} ms  p99 ${of(({ echo: base }) => base.p99)} ms`,
      `ratio       ${ratio.toFixed(3)} of the echo's throughput (at least 0.333 wanted)`,
      '',
    ].join('\n'),
  );
  if (ratio < 1 / 3) process.exitCode = 1;
}

await bench();
