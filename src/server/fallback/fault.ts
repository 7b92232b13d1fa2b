import { assertNever } from '../../base/never.js';

/** Why one request brought nothing. */
export type Fault =
  | { readonly kind: 'status'; readonly status: number; readonly retryAfter?: string }
  | {
      readonly kind:
        'network' | 'timeout' | 'redirect' | 'foreign' | 'too-large' | 'too-deep' | 'not-fhir-json';
    };

/** Carries a fault through the FHIR client, without address or body: both may name the patient. */
export class ReadFault extends Error {
  constructor(readonly fault: Fault) {
    super('the FHIR server could not be read');
  }
}

export const NOT_OFFERED = 'not offered here';

/** What the server says by its status alone: it does not do this, or not for this token. */
export function isNotOffered(fault: Fault): boolean {
  return fault.kind === 'status' && [403, 404, 501].includes(fault.status);
}

/** The server does not take the query in this form; another form may do. */
export function isRefused(fault: Fault): boolean {
  return fault.kind === 'status' && fault.status === 400;
}

/** Worth asking a second time: the fault may have been of the moment. */
export function isPassing(fault: Fault): boolean {
  if (fault.kind === 'network' || fault.kind === 'timeout') return true;
  return fault.kind === 'status' && (fault.status === 429 || (fault.status >= 500 && fault.status !== 501));
}

/** What is told of a set that could not be read. */
export function describeFault(fault: Fault): string {
  return `could not be read (${reason(fault)})`;
}

function reason(fault: Fault): string {
  switch (fault.kind) {
    case 'status':
      return statusReason(fault.status);
    case 'network':
      return 'the connection failed';
    case 'timeout':
      return 'no answer in time';
    case 'redirect':
      return 'redirect refused';
    case 'foreign':
      return 'address on another server';
    case 'too-large':
      return 'answer too large';
    case 'too-deep':
      return 'answer nested too deep';
    case 'not-fhir-json':
      return 'not FHIR JSON';
    default:
      return assertNever(fault);
  }
}

function statusReason(status: number): string {
  if (status === 400) return 'query refused';
  if (status === 401) return 'token refused';
  if (status === 404 || status === 410) return 'not there';
  if (status === 429) return 'server busy';
  return status >= 500 ? 'server failed' : 'request refused';
}
