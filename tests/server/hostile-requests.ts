import fc from 'fast-check';
import { SERVICES } from '../../src/advice/index.js';
import type { AdviceInput } from '../../src/advice/index.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { assembled, EC, ISS, KID, signedBy, STRANGER, unsigned } from './auth/signing.js';
import type { Signer } from './auth/signing.js';
import { inputs } from './damaged-calls.js';
import { damageText, oddRequest, textDamage } from './odd-requests.js';
import type { TextDamage } from './odd-requests.js';
import { mutate, mutation } from './mutation.js';
import type { Mutation } from './mutation.js';

/** One request as an attacker, or a broken client, would send it. */
export interface HostileRequest {
  readonly kind: 'call' | 'feedback' | 'evaluate' | 'token' | 'odd';
  readonly method: string;
  /** Below the path of the public URL. */
  readonly path: string;
  readonly headers: Readonly<Record<string, string>>;
  readonly body: string;
}

/** Where tokens are meant for, and by which clock. */
export interface Target {
  readonly publicUrl: string;
  readonly nowS: number;
}

const JSON_TYPE = { 'content-type': 'application/json' } as const;
const card = (number: number): string => `0000000${number}-0000-4000-8000-000000000000`;

/** Feedback in all its forms, as CDS Hooks 2.0 writes it. */
export const FEEDBACK = {
  feedback: [
    {
      card: card(1),
      outcome: 'accepted',
      acceptedSuggestions: [{ id: card(2) }, { id: card(3) }],
      outcomeTimestamp: '2026-11-24T09:59:00Z',
    },
    { card: card(4), outcome: 'overridden', outcomeTimestamp: '2026-11-24T09:59:30.5Z' },
    {
      card: card(5),
      outcome: 'overridden',
      outcomeTimestamp: '2026-11-24T10:59:30+01:00',
      overrideReason: {
        reason: { code: 'local-protocol', system: 'https://kotyle.example/fhir/CodeSystem/override-reason' },
        userComment: 'seen with the patient',
      },
    },
  ],
};

const names = [...inputs.keys()];
const mutations = fc.array(mutation, { minLength: 1, maxLength: 8 });

function inputNamed(name: string): AdviceInput {
  const input = inputs.get(name);
  if (!input) throw new Error(`no test patient ${name}`);
  return input;
}

/** The body a client would send for a test patient. */
export function callBody(name: string): JsonObject {
  const { hookInstance, context, prefetch, service } = inputNamed(name);
  return { hook: service.hook, hookInstance, context, prefetch };
}

export function callPath(name: string): string {
  return `/cds-services/${inputNamed(name).service.id}`;
}

type EvaluateForm = 'bundle' | 'parameters' | 'server';

/** A request to evaluate a test patient: as a bare Bundle, as Parameters, or to be read from a server. */
function evaluateBody(name: string, form: EvaluateForm): JsonObject {
  if (form === 'server')
    return parameters(
      { name: 'subject', valueString: 'Patient/patient-1' },
      { name: 'fhirServer', valueUrl: 'http://169.254.169.254/latest' },
      { name: 'fhirAuthorization', part: [{ name: 'access_token', valueString: 'token' }] },
    );
  const { prefetch, context } = inputNamed(name);
  const bundles = [...Object.values(prefetch), context['draftOrders']] as readonly (JsonObject | undefined)[];
  const entry = bundles.flatMap((one) =>
    one?.['resourceType'] === 'Bundle'
      ? ((one['entry'] ?? []) as readonly JsonObject[])
      : one
        ? [{ resource: one }]
        : [],
  );
  const data = { resourceType: 'Bundle', type: 'collection', entry };
  if (form === 'bundle') return data;
  return parameters(
    { name: 'data', resource: data },
    { name: 'hip', valueCode: 'left' },
    { name: 'stage', valueCode: 'planned' },
    { name: 'now', valueInstant: '2026-11-24T10:00:00Z' },
  );
}

function parameters(...parameter: readonly JsonObject[]): JsonObject {
  return { resourceType: 'Parameters', parameter };
}

/** A header can hold no other characters: a client that tried would not get them sent. */
function asHeader(text: string): string {
  return text.replaceAll(/[^\x20-\x7e]/g, '?').slice(0, 12_000);
}

const call = fc
  .record({ name: fc.constantFrom(...names), mutations })
  .map(({ name, mutations: hurts }): HostileRequest => {
    const body = JSON.stringify(mutate(callBody(name), hurts));
    return { kind: 'call', method: 'POST', path: callPath(name), headers: JSON_TYPE, body };
  });

const feedback = fc
  .record({ service: fc.constantFrom(...SERVICES), mutations })
  .map(({ service, mutations: hurts }): HostileRequest => {
    const path = `/cds-services/${service.id}/feedback`;
    return {
      kind: 'feedback',
      method: 'POST',
      path,
      headers: JSON_TYPE,
      body: JSON.stringify(mutate(FEEDBACK, hurts)),
    };
  });

const evaluate = fc
  .record({
    name: fc.constantFrom(...names),
    form: fc.constantFrom<EvaluateForm>('bundle', 'parameters', 'server'),
    mutations,
  })
  .map(({ name, form, mutations: hurts }): HostileRequest => {
    const body = JSON.stringify(mutate(evaluateBody(name, form), hurts));
    const headers = { 'content-type': 'application/fhir+json' };
    return { kind: 'evaluate', method: 'POST', path: '/fhir/$evaluate', headers, body };
  });

const SIGNERS: readonly Signer[] = [signedBy(EC), signedBy(STRANGER), unsigned];

interface TokenDamage {
  readonly name: string;
  readonly mutations: readonly Mutation[];
  readonly signer: Signer;
  readonly text: readonly TextDamage[];
  readonly jti: string;
}

function tokenRequest(
  { name, mutations: hurts, signer, text, jti }: TokenDamage,
  { publicUrl, nowS }: Target,
): HostileRequest {
  const path = callPath(name);
  const whole = {
    header: { alg: 'ES384', typ: 'JWT', kid: KID },
    claims: { iss: ISS, aud: `${publicUrl}${path}`, exp: nowS + 120, iat: nowS, jti, tenant: 'north' },
  };
  const { header, claims }: { readonly header?: unknown; readonly claims?: unknown } = mutate(whole, hurts);
  const sent = text.reduce(damageText, assembled(header ?? null, claims ?? null, signer));
  const headers = { ...JSON_TYPE, authorization: asHeader(`Bearer ${sent}`) };
  return { kind: 'token', method: 'POST', path, headers, body: JSON.stringify(callBody(name)) };
}

function token(target: Target): fc.Arbitrary<HostileRequest> {
  return fc
    .record({
      name: fc.constantFrom(...names),
      mutations: fc.array(mutation, { maxLength: 3 }),
      signer: fc.constantFrom(...SIGNERS),
      text: fc.array(textDamage, { maxLength: 1 }),
      jti: fc.uuid(),
    })
    .map((drawn) => tokenRequest(drawn, target));
}

const odd = oddRequest(
  fc.constantFrom(...names).map((name) => ({ path: callPath(name), body: callBody(name) })),
).map((request): HostileRequest => ({ kind: 'odd', ...request }));

/** Mutated calls above all; feedback, evaluations, tokens and requests of no form at all beside them. */
export function hostileRequest(target: Target): fc.Arbitrary<HostileRequest> {
  return fc.oneof(
    { weight: 10, arbitrary: call },
    { weight: 2, arbitrary: feedback },
    { weight: 3, arbitrary: evaluate },
    { weight: 3, arbitrary: token(target) },
    { weight: 2, arbitrary: odd },
  );
}
