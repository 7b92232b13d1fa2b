import { z } from 'zod';
import type { Issue, Result } from '../base/result.js';
import { failed, issue, ok } from '../base/result.js';
import type { Hook, Service } from '../advice/index.js';
import type { JsonObject } from '../fhir/json.js';

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

/** Whom the record system means by the two ids of a call. */
export function whoseIds({ fhirServer, patientId, userId }: HookRequest): {
  readonly patient: { readonly iss: string; readonly fhirServer?: string; readonly id: string };
  readonly user: { readonly iss: string; readonly fhirServer?: string; readonly id: string };
} {
  const where = { iss: NOBODY, ...(fhirServer !== undefined && { fhirServer }) };
  return { patient: { ...where, id: patientId }, user: { ...where, id: userId } };
}

/** Stands for the client where calls are not authenticated. */
export const NOBODY = '-';

const HOOK_INSTANCE = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/i;
const RFC_UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[1-8][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/i;
const FHIR_ID = /^[A-Za-z0-9\-.]{1,64}$/;
const PREFIXED_ID = /^Patient\/([A-Za-z0-9\-.]{1,64})$/;
const USER = /^[A-Z][A-Za-z]+\/[A-Za-z0-9\-.]{1,64}$/;

const object = z.record(z.string(), z.unknown());
const bundle = z.looseObject({ resourceType: z.literal('Bundle') });
const common = { userId: z.string(), patientId: z.string(), encounterId: z.string().optional() };

/** More orders than anybody drafts at once; a list is measured before anything is built from its members. */
const MOST_SELECTIONS = 1000;
const selections = z
  .array(z.unknown())
  .max(MOST_SELECTIONS, `at most ${MOST_SELECTIONS} selections`)
  .pipe(z.array(z.string()));

const CONTEXTS = {
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
const envelope = z.looseObject({
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
  const leniencies: string[] = [];
  const issues: Issue[] = [];
  const prefixed = PREFIXED_ID.exec(context.patientId)?.[1];
  if (prefixed !== undefined && !strict) leniencies.push('patientId sent as a reference');
  const patientId = strict ? context.patientId : (prefixed ?? context.patientId);
  if (!FHIR_ID.test(patientId))
    issues.push(issue('wrong-value', 'context.patientId', 'expected a FHIR id, found something else'));
  if (!USER.test(context.userId))
    issues.push(issue('wrong-value', 'context.userId', 'expected ResourceType/id, found something else'));
  if (!HOOK_INSTANCE.test(request.hookInstance)) {
    issues.push(issue('wrong-value', 'hookInstance', 'expected a UUID, found something else'));
  } else if (!RFC_UUID.test(request.hookInstance)) {
    if (strict)
      issues.push(issue('wrong-value', 'hookInstance', 'expected a UUID of RFC 9562, found another form'));
    else leniencies.push('hookInstance not a UUID of RFC 9562');
  }
  if (issues.length > 0) return { ok: false, issues };
  return ok({
    hook: service.hook,
    hookInstance: request.hookInstance.toLowerCase(),
    patientId,
    userId: context.userId,
    context: request.context,
    prefetch: request.prefetch ?? {},
    ...(request.fhirServer !== undefined && { fhirServer: request.fhirServer }),
    ...accessOf(request),
    leniencies,
  });
}

function accessOf({ fhirAuthorization }: Envelope): Pick<HookRequest, 'access'> {
  // A token that has run out is none.
  if (!fhirAuthorization || fhirAuthorization.expires_in <= 0) return {};
  const { access_token: accessToken, scope: scopes } = fhirAuthorization;
  return { access: { accessToken, scopes } };
}

/** What was expected and what kind of thing was found; never the value, which may be a patient's. */
export function toIssue(
  fault: z.core.$ZodIssue,
  root: unknown,
  base: readonly PropertyKey[],
): readonly Issue[] {
  const path = [...base, ...fault.path].map(String).join('.');
  const found = kindAt(root, fault.path);
  const expected =
    fault.code === 'invalid_type'
      ? fault.expected
      : fault.code === 'invalid_value'
        ? fault.values.map(String).join(' or ')
        : fault.message;
  const code = found === 'nothing' ? 'missing' : fault.code === 'invalid_type' ? 'wrong-type' : 'wrong-value';
  return [
    issue(
      code,
      path,
      `expected ${expected}, found ${found === 'nothing' || code === 'wrong-type' ? found : 'something else'}`,
    ),
  ];
}

function kindAt(root: unknown, path: readonly PropertyKey[]): string {
  let value = root;
  for (const step of path) {
    if (typeof value !== 'object' || value === null) return 'nothing';
    value = (value as Readonly<Record<PropertyKey, unknown>>)[step];
  }
  if (value === undefined) return 'nothing';
  if (value === null) return 'null';
  return Array.isArray(value) ? 'a list' : typeof value;
}
