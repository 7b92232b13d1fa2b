import { exportJWK, generateKeyPair, importJWK, SignJWT } from 'jose';
import type { JWK } from 'jose';
import { randomUUID } from 'node:crypto';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { patientCall } from '../../src/advice/patient-calls.js';
import type { PatientCall } from '../../src/advice/patient-calls.js';
import { bundleEntries } from '../../src/fhir/bundle.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { rulebook, service as serviceFor, testPatients } from '../advice/patients.js';
import type { TestPatient } from '../advice/patients.js';
import { startFhirServer } from './fhir-server.js';
import type { FhirServer } from './fhir-server.js';

/**
 * A record system to try the service with, on this machine: a client that reads the discovery document, answers its
 * prefetch templates from a FHIR server that holds the record of an invented patient, signs its tokens and calls.
 *
 *   npx tsx tests/fhir-server/sandbox.ts register <folder>
 *     writes a key for the sandbox, and <folder>/clients.json, by which the service will know it
 *   npx tsx tests/fhir-server/sandbox.ts call <folder> <origin of the service> <its public URL>
 *     books, chooses, signs and opens the chart of every invented patient, and prints what came back
 */
const [, , verb = '', folder = '', origin = '', publicUrl = ''] = process.argv;
const ISSUER = 'https://sandbox.example';
const KEY_FILE = 'sandbox-key.json';

interface Discovered {
  readonly id: string;
  readonly hook: string;
  readonly prefetch: Readonly<Record<string, string>>;
}

if (verb === 'register' && folder !== '') await register();
else if (verb === 'call' && folder !== '' && origin !== '' && publicUrl !== '') await callAll();
else {
  process.stderr.write('expected: register <folder>, or call <folder> <origin> <public URL>\n');
  process.exitCode = 2;
}

async function register(): Promise<void> {
  mkdirSync(folder, { recursive: true });
  const { publicKey, privateKey } = await generateKeyPair('ES384', { extractable: true });
  const kid = 'sandbox-1';
  writeFileSync(join(folder, KEY_FILE), JSON.stringify({ ...(await exportJWK(privateKey)), kid }), {
    mode: 0o600,
  });
  const keys = [{ ...(await exportJWK(publicKey)), kid, use: 'sig', alg: 'ES384' }];
  writeFileSync(
    join(folder, 'clients.json'),
    `${JSON.stringify({ clients: [{ iss: ISSUER, keys }] }, null, 2)}\n`,
  );
  process.stdout.write(`${ISSUER} is registered in ${join(folder, 'clients.json')}\n`);
}

async function callAll(): Promise<void> {
  const key = readKey();
  const listing = await fetch(`${origin}/cds-services`, { headers: await signed(key, '/cds-services') });
  if (!listing.ok) throw new Error(`expected the discovery document, found ${listing.status}`);
  const { services } = (await listing.json()) as { readonly services: readonly Discovered[] };
  const counts = new Map<string, number>();
  for (const patient of testPatients())
    for (const discovered of services) {
      const came = await callFor(patient, discovered, key);
      if (came !== undefined) counts.set(came, (counts.get(came) ?? 0) + 1);
    }
  for (const [came, calls] of [...counts].sort()) process.stdout.write(`${came}: ${calls} calls\n`);
}

/** Makes one call about one patient, whose record stands on a FHIR server; undefined where there is nothing to call for. */
async function callFor(patient: TestPatient, discovered: Discovered, key: JWK): Promise<string | undefined> {
  const call = patientCall(patient.bundle, serviceFor(discovered.hook), rulebook, randomUUID());
  if (!call) return undefined;
  const server = await startFhirServer(recordOf(patient, call));
  const prefetch = await prefetchOf(discovered, String(call.context['patientId']), server);
  await server.stop();
  const path = `/cds-services/${discovered.id}`;
  const response = await fetch(`${origin}${path}`, {
    method: 'POST',
    headers: { 'Content-Type': 'application/json', ...(await signed(key, path)) },
    body: JSON.stringify({ ...call, prefetch }),
  });
  if (response.status !== 200) return `${discovered.hook}: ${response.status}`;
  const { cards } = (await response.json()) as { readonly cards: readonly unknown[] };
  return `${discovered.hook}: 200, ${cards.length === 1 ? '1 card' : `${cards.length} cards`}`;
}

/** What is on record: everything but the orders and visits that are only being made. */
function recordOf({ bundle }: TestPatient, { context }: PatientCall): readonly JsonObject[] {
  const drafts = JSON.stringify(context);
  return bundleEntries(bundle)
    .map(({ resource }) => resource)
    .filter((resource) => !drafts.includes(JSON.stringify(resource)));
}

function readKey(): JWK {
  const path = join(folder, KEY_FILE);
  if (!existsSync(path)) throw new Error(`expected the key of the sandbox at ${path}: register it first`);
  return JSON.parse(readFileSync(path, 'utf8')) as JWK;
}

async function signed(key: JWK, path: string): Promise<Readonly<Record<string, string>>> {
  const token = await new SignJWT({})
    .setProtectedHeader({ alg: 'ES384', typ: 'JWT', kid: String(key.kid) })
    .setIssuer(ISSUER)
    .setAudience(`${publicUrl}${path}`)
    .setIssuedAt()
    .setExpirationTime('2 minutes')
    .setJti(randomUUID())
    .sign(await importJWK(key, 'ES384'));
  return { Authorization: `Bearer ${token}` };
}

/** What the templates ask for, read from the sandbox's own server; a token that cannot be filled in leaves its key out. */
async function prefetchOf(
  { prefetch }: Discovered,
  patientId: string,
  server: FhirServer,
): Promise<Readonly<Record<string, unknown>>> {
  const read: Record<string, unknown> = {};
  for (const [key, template] of Object.entries(prefetch)) {
    const query = template.replaceAll('{{context.patientId}}', patientId);
    if (query.includes('{{')) continue;
    const response = await fetch(`${server.base}/${query}`);
    if (response.ok) read[key] = await response.json();
  }
  return read;
}
