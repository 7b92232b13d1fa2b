import type { Request, Response } from 'express';
import { assertNever } from '../base/never.js';
import type { Issue, IssueCode } from '../base/result.js';
import { issue } from '../base/result.js';
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
    case 'not-allowed':
      return 403;
    case 'unknown-service':
    case 'unknown-path':
      return 404;
    case 'wrong-method':
      return 405;
    case 'not-acceptable':
      return 406;
    case 'too-slow':
      return 408;
    case 'gone':
      return 410;
    case 'data-unobtainable':
      return 412;
    case 'too-large':
      return 413;
    case 'wrong-media-type':
      return 415;
    case 'throttled':
      return 429;
    case 'internal':
      return 500;
    case 'not-stored':
    case 'overloaded':
    case 'not-ready':
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
  // What is counted once the answer has left.
  response.locals['problem'] = first?.code ?? 'internal';
  response.type('application/fhir+json').send(JSON.stringify(operationOutcome(issues.slice(0, MOST_ISSUES))));
}

/** Answers any other method on a path that exists. */
export function allowOnly(...methods: readonly string[]) {
  return (_request: Request, response: Response): void => {
    const allowed = methods.join(', ');
    response.set('Allow', allowed);
    answerProblem(response, [issue('wrong-method', '', `expected ${allowed}`)]);
  };
}
