import { readFileSync } from 'node:fs';
import { basename } from 'node:path';
import { z } from 'zod';
import { publishedServices } from '../../advice/index.js';
import type { RulebookIssue } from '../../rulebook/pack.js';
import { formatIssue } from '../../rulebook/pack.js';
import { fhirBase } from '../setting-forms.js';
import { ALGORITHMS, DEFAULT_ALGORITHMS, statedKey } from './public-key.js';

/** Stands for the FHIR endpoint among the services a client may be held to. */
export const FHIR_ENDPOINT = 'fhir';

const SERVICES = [
  ...new Set([...publishedServices(false), ...publishedServices(true)].map(({ id }) => id)),
  FHIR_ENDPOINT,
];

const name = z.string().min(1).max(256);
const keySetUrl = z.string().refine(isKeySetUrl, 'an https URL without user, password or fragment');

function isKeySetUrl(text: string): boolean {
  if (!URL.canParse(text)) return false;
  const { protocol, username, password, hash } = new URL(text);
  return protocol === 'https:' && username === '' && password === '' && hash === '';
}

const client = z
  .strictObject({
    /** Compared as a string, character by character (RFC 7519, section 2). */
    iss: name,
    /** Addresses at which the client publishes its keys; a token may name no other. */
    jku: z.array(keySetUrl).min(1).default([]),
    /** The key set's host may have an address of a private network; else such an address is not connected to. */
    jkuOnPrivateNetwork: z.boolean().default(false),
    /** Keys exchanged out of band. */
    keys: z.array(statedKey).min(1).default([]),
    algorithms: z
      .array(z.enum(ALGORITHMS))
      .min(1)
      .default([...DEFAULT_ALGORITHMS]),
    /** Where given, a token must name one of them. */
    tenants: z.array(name).min(1).optional(),
    /** Where given, the services this client may call; others are answered with 403. */
    services: z.array(z.enum(SERVICES)).min(1).optional(),
    /** Where given, those of the service's FHIR servers that this client may name; an empty list is none. */
    fhirServers: z.array(fhirBase).optional(),
    /** In place of KOTYLE_CALLS_PER_MINUTE; 0 is no limit. */
    callsPerMinute: z.int().min(0).optional(),
  })
  .refine(({ jku, keys }) => jku.length + keys.length > 0, { path: ['jku'], error: 'jku, keys or both' })
  .superRefine(({ keys }, context) => {
    for (const at of repeats(keys.map(({ kid }) => kid)))
      context.addIssue({ code: 'custom', path: ['keys', at, 'kid'], message: 'a kid of its own' });
  });

const clientsFile = z
  .strictObject({ clients: z.array(client).min(1) })
  .superRefine(({ clients }, context) => {
    for (const at of repeats(clients.map(({ iss }) => iss)))
      context.addIssue({ code: 'custom', path: ['clients', at, 'iss'], message: 'an iss of its own' });
  });

/** Who may call, and how it proves to be who it says. */
export type Client = Readonly<z.infer<typeof client>>;

function repeats(names: readonly string[]): readonly number[] {
  return names.flatMap((one, at) => (names.indexOf(one) < at ? [at] : []));
}

/** Reads the file of clients. Throws with every fault listed: nobody is let in by half a list. */
export function loadClients(path: string): readonly Client[] {
  const content = contentOf(path);
  const result = clientsFile.safeParse(content);
  if (result.success) return result.data.clients;
  const faults = result.error.issues.map((fault) => formatIssue(toIssue(fault, basename(path), content)));
  throw new Error(`the clients file ${path} has faults:\n${faults.join('\n')}`);
}

function contentOf(path: string): unknown {
  let text: string;
  try {
    text = readFileSync(path, 'utf8');
  } catch (error) {
    return `not readable: ${error instanceof Error && 'code' in error ? String(error.code) : 'no reason given'}`;
  }
  try {
    return JSON.parse(text) as unknown;
  } catch {
    return 'not JSON';
  }
}

function toIssue(fault: z.core.$ZodIssue, file: string, content: unknown): RulebookIssue {
  const path = fault.path
    .map((step, at) => (typeof step === 'number' ? `[${step}]` : `${at === 0 ? '' : '.'}${String(step)}`))
    .join('');
  return { file, path, expected: expectation(fault), found: foundAt(content, fault.path) };
}

function expectation(fault: z.core.$ZodIssue): string {
  if (fault.code === 'invalid_type') return fault.expected;
  if (fault.code === 'unrecognized_keys') return `no member ${fault.keys.join(', ')}`;
  if (fault.code === 'invalid_value') return `one of ${fault.values.map(String).join(', ')}`;
  return fault.message.replace(/^expected /, '');
}

/** What stands there. Nothing of a key is repeated: somebody may have put the private one in. */
function foundAt(content: unknown, path: readonly PropertyKey[]): string {
  let value = content;
  for (const step of path) {
    if (typeof value !== 'object' || value === null) return 'nothing';
    value = (value as Readonly<Record<PropertyKey, unknown>>)[step];
  }
  if (value === undefined) return 'nothing';
  if (typeof value === 'object') return Array.isArray(value) ? `a list of ${value.length}` : 'an object';
  return path.includes('keys') ? `a ${typeof value}` : JSON.stringify(value).slice(0, 60);
}
