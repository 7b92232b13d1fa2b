import type { Response } from 'express';
import { assertNever } from '../base/never.js';
import type { Issue, IssueCode } from '../base/result.js';
import { operationOutcome } from '../fhir/operation-outcome.js';

/** The HTTP status of an issue; the one place where it is chosen. */
export function statusOf(code: IssueCode): number {
  switch (code) {
    case 'not-json':
    case 'not-an-object':
    case 'missing':
    case 'wrong-type':
    case 'wrong-value':
    case 'wrong-patient':
    case 'merged-patient':
    case 'wrong-hook':
      return 400;
    case 'unknown-service':
    case 'unknown-path':
      return 404;
    case 'wrong-method':
      return 405;
    case 'data-unobtainable':
      return 412;
    case 'too-large':
      return 413;
    case 'wrong-media-type':
      return 415;
    case 'internal':
      return 500;
    case 'not-stored':
      return 503;
    default:
      return assertNever(code);
  }
}

/** Enough to mend a request by; a client that sent thousands of faults is not sent them back. */
const MOST_ISSUES = 20;

/** Answers with an OperationOutcome; the first issue decides the status. */
export function answerProblem(response: Response, issues: readonly Issue[]): void {
  const [first] = issues;
  response.status(first ? statusOf(first.code) : 500);
  response.type('application/fhir+json').send(JSON.stringify(operationOutcome(issues.slice(0, MOST_ISSUES))));
}
