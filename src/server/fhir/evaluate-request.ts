import type { Issue, Result } from '../../base/result.js';
import { failed, issue, ok } from '../../base/result.js';
import { bundleEntries } from '../../fhir/bundle.js';
import { asText } from '../../fhir/json.js';
import type { JsonObject } from '../../fhir/json.js';
import type { ConstructKind, Side } from '../../facts/definitions.js';
import { toIssue } from '../form-issue.js';
import { evaluateSchema } from './evaluate-schema.js';
import type { EvaluateParameter } from './evaluate-schema.js';

/** Where the patient's record is: in the request, or on a FHIR server. */
export type EvaluateSource =
  | { readonly kind: 'data'; readonly bundle: JsonObject }
  | {
      readonly kind: 'server';
      readonly patientId: string;
      readonly fhirServer: string;
      /** The caller's own access: sent to that server, and nowhere kept. */
      readonly access: { readonly accessToken?: string; readonly scopes?: string };
    };

/** What `$evaluate` is asked. */
export interface EvaluateRequest {
  readonly source: EvaluateSource;
  readonly hip?: Side;
  readonly construct?: ConstructKind;
  /** ISO 8601 instant in UTC. */
  readonly now?: string;
}

/** Reads the body of `$evaluate`: Parameters, or the Bundle alone. Every fault is named with its path, never a value. */
export function readEvaluateRequest(
  body: unknown,
  mode: 'development' | 'production',
): Result<EvaluateRequest> {
  if (typeof body !== 'object' || body === null || Array.isArray(body))
    return failed(issue('not-an-object', '', 'expected Parameters or a Bundle'));
  const resource = body as JsonObject;
  if (resource['resourceType'] === 'Bundle') return ofBundle(resource, '', {});
  const parsed = evaluateSchema.safeParse(body);
  if (!parsed.success)
    return { ok: false, issues: parsed.error.issues.flatMap((fault) => toIssue(fault, body, [])) };
  return ofParameters(parsed.data.parameter, mode);
}

function ofParameters(
  parameters: readonly EvaluateParameter[],
  mode: 'development' | 'production',
): Result<EvaluateRequest> {
  const names = parameters.map(({ name }) => name);
  const issues: Issue[] = names
    .filter((name, index) => names.indexOf(name) !== index)
    .map((name) => issue('wrong-value', name, 'expected it once, found it again'));
  const { data, subject, fhirServer, fhirAuthorization, hip, stage, now } = byName(parameters);
  if (now && mode === 'production')
    issues.push(issue('wrong-value', 'now', 'expected none in production: the time is the service’s own'));
  if (data && (subject ?? fhirServer ?? fhirAuthorization))
    issues.push(issue('wrong-value', 'data', 'expected data, or subject and fhirServer, found both'));
  if (!data && !subject)
    issues.push(issue('missing', 'data', 'expected data, or subject and fhirServer, found neither'));
  if (!data && subject && !fhirServer)
    issues.push(issue('missing', 'fhirServer', 'expected it beside subject, found nothing'));
  if (issues.length > 0) return { ok: false, issues };
  const asked = {
    ...(hip && { hip: hip.valueCode }),
    ...(stage && { construct: CONSTRUCTS[stage.valueCode] }),
    ...(now && { now: new Date(now.valueInstant).toISOString() }),
  };
  if (data) return ofBundle(data.resource, 'data', asked);
  if (!subject || !fhirServer) throw new TypeError('expected a subject and a server');
  return ok({
    ...asked,
    source: {
      kind: 'server',
      patientId: subject.valueString.replace(/^Patient\//, ''),
      fhirServer: fhirServer.valueUrl,
      access: accessOf(fhirAuthorization),
    },
  });
}

const CONSTRUCTS = { planned: 'planned', postoperative: 'in-place' } as const;

type ByName = { readonly [Name in EvaluateParameter['name']]?: Extract<EvaluateParameter, { name: Name }> };

function byName(parameters: readonly EvaluateParameter[]): ByName {
  return Object.fromEntries(parameters.map((parameter) => [parameter.name, parameter]));
}

function accessOf(authorization: Extract<EvaluateParameter, { name: 'fhirAuthorization' }> | undefined): {
  readonly accessToken?: string;
  readonly scopes?: string;
} {
  const value = (name: string): string | undefined =>
    authorization?.part.find((part) => part.name === name)?.valueString;
  const accessToken = value('access_token');
  const scopes = value('scope');
  return { ...(accessToken !== undefined && { accessToken }), ...(scopes !== undefined && { scopes }) };
}

const FHIR_ID = /^[A-Za-z0-9\-.]{1,64}$/;

/** One patient, and one only: whose record it is may not be a guess. */
function ofBundle(
  bundle: JsonObject,
  path: string,
  asked: Omit<EvaluateRequest, 'source'>,
): Result<EvaluateRequest> {
  const ids = bundleEntries(bundle).flatMap(({ resource }) =>
    resource['resourceType'] === 'Patient' ? [asText(resource['id'])] : [],
  );
  const different = new Set(ids);
  if (ids.length === 0)
    return failed(issue('missing', path, 'expected one Patient in the Bundle, found none'));
  if (different.has(undefined))
    return failed(issue('missing', path, 'expected a Patient with an id, found one without'));
  if (![...different].every((id) => id !== undefined && FHIR_ID.test(id)))
    return failed(issue('wrong-value', path, 'expected a Patient with a FHIR id, found another form'));
  if (different.size > 1)
    return failed(
      issue('wrong-patient', path, `expected one Patient in the Bundle, found ${different.size}`),
    );
  return ok({ ...asked, source: { kind: 'data', bundle } });
}
