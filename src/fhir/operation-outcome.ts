import type { OperationOutcome, OperationOutcomeIssue } from 'fhir/r4.js';
import { assertNever } from '../base/never.js';
import type { Issue, IssueCode } from '../base/result.js';

/** Renders issues as a FHIR R4 OperationOutcome, the body of every answer that is not a success. */
export function operationOutcome(issues: readonly Issue[]): OperationOutcome {
  return {
    resourceType: 'OperationOutcome',
    issue: issues.map((found) => ({
      severity: found.severity,
      code: fhirIssueCode(found.code),
      diagnostics: found.message,
      ...(found.path !== '' && { expression: [found.path] }),
    })),
  };
}

function fhirIssueCode(code: IssueCode): OperationOutcomeIssue['code'] {
  switch (code) {
    case 'not-json':
    case 'not-an-object':
    case 'wrong-type':
      return 'structure';
    case 'missing':
      return 'required';
    case 'wrong-value':
    case 'wrong-hook':
    case 'wrong-patient':
      return 'value';
    case 'merged-patient':
      return 'conflict';
    case 'unknown-service':
    case 'unknown-path':
      return 'not-found';
    case 'wrong-method':
    case 'wrong-media-type':
    case 'not-acceptable':
      return 'not-supported';
    case 'gone':
      return 'deleted';
    case 'too-large':
      return 'too-long';
    case 'data-unobtainable':
      return 'incomplete';
    case 'internal':
      return 'exception';
    case 'not-allowed':
      return 'forbidden';
    case 'throttled':
      return 'throttled';
    case 'not-stored':
      return 'no-store';
    case 'too-slow':
      return 'timeout';
    case 'overloaded':
    case 'not-ready':
      return 'transient';
    default:
      return assertNever(code);
  }
}
