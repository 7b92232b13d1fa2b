import type { Request } from 'express';
import type { OperationOutcome } from 'fhir/r4.js';
import { outcome } from './answers.js';
import { searchParametersOf } from './search-parameters.js';

/** What sets one record system's server apart from another's. */
export interface ServerSwitches {
  /** Types it does not know, and the status it says so with. */
  readonly unknownTypes?: Readonly<Record<string, 404 | 501>>;
  /** Refuses searches without a status. */
  readonly demandsStatus?: boolean;
  /** Refuses several values in one parameter. */
  readonly refusesCommaLists?: boolean;
  /** Refuses every search parameter but the patient. */
  readonly knowsOnlyPatient?: boolean;
  /** Puts a warning beside the matches. */
  readonly addsWarnings?: boolean;
  /** Refuses requests that do not ask for application/fhir+json. */
  readonly demandsFhirJson?: boolean;
  /** The bearer token without which nothing is answered. */
  readonly token?: string;
  readonly latencyMs?: number;
  readonly pageSize?: number;
}

export interface Refusal {
  readonly status: number;
  readonly body: OperationOutcome;
}

/** What is refused before anybody looks at what was asked for. */
export function refuseRequest(request: Request, switches: ServerSwitches): Refusal | undefined {
  if (switches.token !== undefined && request.headers.authorization !== `Bearer ${switches.token}`)
    return refusal(401, 'login', 'expected a valid bearer token');
  if (switches.demandsFhirJson && !request.headers.accept?.includes('application/fhir+json'))
    return refusal(406, 'not-supported', 'expected Accept: application/fhir+json');
  return undefined;
}

export function refuseType(type: string, switches: ServerSwitches): Refusal | undefined {
  const status = switches.unknownTypes?.[type];
  if (status !== undefined) return refusal(status, 'not-supported', `no ${type} here`);
  return searchParametersOf(type) ? undefined : refusal(404, 'not-supported', `no type ${type} in FHIR R4`);
}

export function refuseSearch(
  type: string,
  terms: URLSearchParams,
  switches: ServerSwitches,
): Refusal | undefined {
  const known = searchParametersOf(type) ?? new Set();
  const names = [...terms.keys()];
  // FHIR R4 lets a server ignore what it does not know; this one says so, that our mistakes may show.
  const unknown = names.find((name) => !known.has(name));
  if (unknown !== undefined)
    return refusal(400, 'not-supported', `no search parameter ${unknown} of ${type}`);
  if (switches.knowsOnlyPatient && names.some((name) => name !== 'patient'))
    return refusal(400, 'not-supported', 'expected a search by patient alone');
  if (switches.refusesCommaLists && [...terms.values()].some((value) => value.includes(',')))
    return refusal(400, 'not-supported', 'expected one value in each parameter');
  const status = ['clinical-status', 'status'].find((name) => known.has(name));
  if (switches.demandsStatus && status !== undefined && !terms.has(status))
    return refusal(400, 'required', `expected ${status}`);
  return undefined;
}

export function refusal(
  status: number,
  code: OperationOutcome['issue'][number]['code'],
  why: string,
): Refusal {
  return { status, body: outcome('error', code, why) };
}
