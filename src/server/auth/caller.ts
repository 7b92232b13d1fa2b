import type { Response } from 'express';

/** Who makes a call: known from its token where calls are authenticated. */
export interface Caller {
  /** The authenticated client; `-` where calls are not authenticated. */
  readonly iss: string;
  /** Which of the client's installations, where it says so. */
  readonly tenant?: string;
  /** Base URLs of FHIR servers this client may name; all that are allowed where it is left out. */
  readonly fhirServers?: readonly string[];
  /** Whose calls are counted together, and how many a minute there may be where the client has a number of its own. */
  readonly limit?: { readonly key: string; readonly callsPerMinute?: number };
}

/** Stands for the client where calls are not authenticated. */
export const NOBODY = '-';

const ANONYMOUS: Caller = { iss: NOBODY };

/** Says who makes this call, for whatever answers it. */
export function setCaller(response: Response, caller: Caller): void {
  response.locals['caller'] = caller;
}

/** Who makes this call. */
export function callerOf(response: Response): Caller {
  return (response.locals['caller'] as Caller | undefined) ?? ANONYMOUS;
}
