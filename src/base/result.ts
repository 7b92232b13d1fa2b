/** What can be wrong with outside input. The HTTP status is chosen from the code, in one function of `server`. */
export type IssueCode =
  | 'not-json'
  | 'not-an-object'
  | 'missing'
  | 'wrong-type'
  | 'wrong-value'
  | 'wrong-patient'
  | 'merged-patient'
  | 'wrong-hook'
  | 'unknown-service'
  | 'unknown-path'
  | 'wrong-method'
  | 'wrong-media-type'
  | 'not-acceptable'
  | 'gone'
  | 'too-large'
  | 'data-unobtainable'
  | 'not-allowed'
  | 'throttled'
  | 'not-stored'
  | 'too-slow'
  | 'overloaded'
  | 'not-ready'
  | 'internal';

/** One complaint about outside input: what was expected, what was found, and where. Never holds patient values. */
export interface Issue {
  readonly code: IssueCode;
  readonly severity: 'error' | 'warning';
  /** Path inside the input, such as `context.patientId`; empty for the whole. */
  readonly path: string;
  readonly message: string;
}

export type Result<Value> =
  { readonly ok: true; readonly value: Value } | { readonly ok: false; readonly issues: readonly Issue[] };

export function ok<Value>(value: Value): Result<Value> {
  return { ok: true, value };
}

export function failed(...issues: readonly Issue[]): Result<never> {
  return { ok: false, issues };
}

/** A shorthand for an error issue. */
export function issue(code: IssueCode, path: string, message: string): Issue {
  return { code, severity: 'error', path, message };
}
