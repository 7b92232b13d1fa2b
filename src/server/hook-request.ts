import { z } from 'zod';
import type { Issue, Result } from '../base/result.js';
import { failed, issue, ok } from '../base/result.js';
import type { Hook, Service } from '../advice/index.js';
import type { JsonObject } from '../fhir/json.js';
import { toIssue } from './form-issue.js';
import { departuresOf } from './hook-departures.js';

/** A CDS Hooks request that has the form the standard asks for. */
export interface HookRequest {
  readonly hook: Hook;
  readonly hookInstance: string;
  readonly patientId: string;
  readonly userId: string;
  readonly context: JsonObject;
  readonly prefetch: JsonObject;
  readonly fhirServer?: string;
  /** The token with which the record system's own server may be asked, and what it covers. */
  readonly access?: { readonly accessToken: string; readonly scopes: string };
  /** Departures from the standard that were let pass. */
  readonly leniencies: readonly string[];
}

/** Whom a client means by the two ids of a call. */
export function whoseIds(
  { fhirServer, patientId, userId }: HookRequest,
  iss: string,
): {
  readonly patient: { readonly iss: string; readonly fhirServer?: string; readonly id: string };
  readonly user: { readonly iss: string; readonly fhirServer?: string; readonly id: string };
} {
  const where = { iss, ...(fhirServer !== undefined && { fhirServer }) };
  return { patient: { ...where, id: patientId }, user: { ...where, id: userId } };
}

const HOOK_INSTANCE = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/i;
const FHIR_ID = /^[A-Za-z0-9\-.]{1,64}$/;
const PREFIXED_ID = /^Patient\/([A-Za-z0-9\-.]{1,64})$/;
const USER = /^[A-Z][A-Za-z]+\/[A-Za-z0-9\-.]{1,64}$/;

const object = z.record(z.string(), z.unknown());
/** More orders or visits than anybody has at hand at once. */
const MOST_AT_HAND = 1000;
const bundle = z.looseObject({
  resourceType: z.literal('Bundle'),
  entry: z
    .unknown()
    .refine((list) => !Array.isArray(list) || list.length <= MOST_AT_HAND, `at most ${MOST_AT_HAND} entries`),
});
const common = { userId: z.string(), patientId: z.string(), encounterId: z.string().optional() };

/** More orders than anybody drafts at once; a list is measured before anything is built from its members. */
const MOST_SELECTIONS = 1000;
const selections = z
  .array(z.unknown())
  .max(MOST_SELECTIONS, `at most ${MOST_SELECTIONS} selections`)
  .pipe(z.array(z.string()));

/** The context of each hook, as it is checked. */
export const CONTEXTS = {
  'appointment-book': z.looseObject({ ...common, appointments: bundle }),
  'order-select': z.looseObject({ ...common, selections, draftOrders: bundle }),
  'order-sign': z.looseObject({ ...common, draftOrders: bundle }),
  'patient-view': z.looseObject(common),
} as const satisfies Record<Hook, z.ZodType>;

const authorization = z.looseObject({
  access_token: z.string().min(1),
  token_type: z.literal('Bearer'),
  expires_in: z.number().int(),
  scope: z.string(),
  subject: z.string(),
});

/** Members besides `hook` and `context`; unknown ones are let pass, as the standard asks. */
export const envelope = z.looseObject({
  hook: z.string(),
  hookInstance: z.string(),
  context: object,
  prefetch: object.nullish(),
  fhirServer: z.url({ protocol: /^https?$/, error: 'an http or https URL' }).optional(),
  fhirAuthorization: authorization.optional(),
});

/** Checks a request body against the hook it was sent to; every fault is named with its path, never with a value. */
export function readHookRequest(body: unknown, service: Service, strict: boolean): Result<HookRequest> {
  if (typeof body !== 'object' || body === null || Array.isArray(body)) {
    return failed(issue('not-an-object', '', 'expected a JSON object'));
  }
  const parsed = envelope.safeParse(body);
  if (!parsed.success)
    return { ok: false, issues: parsed.error.issues.flatMap((fault) => toIssue(fault, body, [])) };
  const request = parsed.data;
  if (request.hook !== service.hook) {
    return failed(
      issue('wrong-hook', 'hook', `expected ${service.hook}, the hook of ${service.id}, found another`),
    );
  }
  const context = CONTEXTS[service.hook].safeParse(request.context);
  if (!context.success) {
    return {
      ok: false,
      issues: context.error.issues.flatMap((fault) => toIssue(fault, request.context, ['context'])),
    };
  }
  if (request.fhirAuthorization && request.fhirServer === undefined) {
    return failed(issue('missing', 'fhirServer', 'expected a URL beside fhirAuthorization, found nothing'));
  }
  return readIdentifiers({ ...request, context: request.context }, context.data, service, strict);
}

type Envelope = z.infer<typeof envelope>;

function readIdentifiers(
  request: Envelope,
  context: { readonly userId: string; readonly patientId: string },
  service: Service,
  strict: boolean,
): Result<HookRequest> {
  const prefixed = strict ? undefined : PREFIXED_ID.exec(context.patientId)?.[1];
  const patientId = prefixed ?? context.patientId;
  const prefetch = request.prefetch ?? {};
  const departures = departuresOf(
    {
      hookInstance: request.hookInstance,
      context: request.context,
      prefetch,
      members: Object.keys(request),
      ...(request.fhirAuthorization && { authorization: request.fhirAuthorization }),
    },
    strict,
  );
  const malformed = [
    ...fault(FHIR_ID.test(patientId), 'context.patientId', 'a FHIR id'),
    ...fault(USER.test(context.userId), 'context.userId', 'ResourceType/id'),
    ...fault(HOOK_INSTANCE.test(request.hookInstance), 'hookInstance', 'a UUID'),
  ];
  const issues = [...malformed, ...departures.issues];
  if (issues.length > 0) return { ok: false, issues };
  return ok({
    hook: service.hook,
    hookInstance: request.hookInstance.toLowerCase(),
    patientId,
    userId: context.userId,
    context: request.context,
    prefetch,
    ...(request.fhirServer !== undefined && { fhirServer: request.fhirServer }),
    ...accessOf(request),
    leniencies: [
      ...(prefixed === undefined ? [] : ['patientId sent as a reference']),
      ...departures.leniencies,
    ],
  });
}

function fault(isRight: boolean, path: string, expected: string): readonly Issue[] {
  return isRight ? [] : [issue('wrong-value', path, `expected ${expected}, found something else`)];
}

function accessOf({ fhirAuthorization }: Envelope): Pick<HookRequest, 'access'> {
  // A token that has run out is none.
  if (!fhirAuthorization || fhirAuthorization.expires_in <= 0) return {};
  const { access_token: accessToken, scope: scopes } = fhirAuthorization;
  return { access: { accessToken, scopes } };
}
