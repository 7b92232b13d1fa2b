import type { Logger } from 'pino';

/** Why a caller was not let in. Told to the log and counted; never told to the caller. */
export type RefusalReason =
  | 'no-token'
  | 'not-a-token'
  | 'unknown-issuer'
  | 'wrong-audience'
  | 'expired'
  | 'too-long-lived'
  | 'not-yet-valid'
  | 'wrong-tenant'
  | 'wrong-header'
  | 'wrong-algorithm'
  | 'foreign-jku'
  | 'unknown-key'
  | 'keys-unavailable'
  | 'wrong-signature'
  | 'wrong-claims'
  | 'replayed';

/** A refusal, with what the token says of itself; none of it is proven. */
export interface Refusal {
  readonly reason: RefusalReason;
  /** Whether the issuer it names is a client of ours. */
  readonly knownIssuer: boolean;
  readonly iss?: unknown;
  readonly tenant?: unknown;
  readonly jti?: unknown;
}

const MINUTE_MS = 60_000;
/** Whoever sends refused tokens by the thousand does not fill the log with them. */
const MOST_LINES = 300;
const LONGEST_TEXT = 64;

/** Writes refusals down, so many a minute and no more; the rest is counted, and the count told with the next line. */
export function newRefusalLog(nowMs: () => number): (log: Logger, refusal: Refusal) => void {
  let minute = -1;
  let lines = 0;
  let left = 0;
  return (log, { reason, knownIssuer, iss, tenant, jti }) => {
    const current = Math.floor(nowMs() / MINUTE_MS);
    if (current !== minute) {
      minute = current;
      lines = 0;
    }
    if (lines >= MOST_LINES) {
      left += 1;
      return;
    }
    lines += 1;
    const claims = { ...text('iss', iss), ...text('tenant', tenant), ...text('jti', jti) };
    log.warn({ reason, knownIssuer, ...claims, ...(left > 0 && { notWritten: left }) }, 'token refused');
    left = 0;
  };
}

/** Anybody can write anything into a claim: what is repeated of it is short and has only plain characters. */
function text(name: string, claim: unknown): Readonly<Record<string, string>> {
  if (typeof claim !== 'string') return {};
  return { [name]: claim.slice(0, LONGEST_TEXT).replaceAll(/[^\w.:/@~-]/g, '?') };
}
