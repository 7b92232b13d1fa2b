import type { Client } from './clients-file.js';
import type { RefusalReason } from './refusal.js';
import type { UnverifiedToken } from './token.js';

/** What a token for one endpoint must fit. */
export interface TokenRules {
  readonly audiences: readonly string[];
  readonly nowS: number;
  /** The longest time from issue to end. */
  readonly maxAgeS: number;
  /** How far the clocks may differ. */
  readonly skewS: number;
}

/** The claims that are used later on, in the form they must have. */
export interface CheckedClaims {
  readonly iss: string;
  readonly jti: string;
  readonly exp: number;
  readonly tenant?: string;
}

const LONGEST_CLAIM = 256;

/** Holds the claims against the rules, in the order CDS Hooks' best practices give: audience, time, tenant. */
export function checkClaims(
  { claims }: UnverifiedToken,
  client: Client,
  rules: TokenRules,
): CheckedClaims | RefusalReason {
  if (!namesAudience(claims.aud, rules.audiences)) return 'wrong-audience';
  const { exp, jti } = claims;
  const untimely = timeFault(claims, rules);
  if (untimely !== undefined) return untimely;
  const tenant = claims['tenant'];
  if (tenant !== undefined && !isShortText(tenant)) return 'wrong-claims';
  if (client.tenants && (tenant === undefined || !client.tenants.includes(tenant))) return 'wrong-tenant';
  if (exp === undefined || !isShortText(jti)) return 'wrong-claims';
  return { iss: client.iss, jti, exp, ...(tenant !== undefined && { tenant }) };
}

function namesAudience(aud: unknown, audiences: readonly string[]): boolean {
  const named: readonly unknown[] = Array.isArray(aud) ? aud : [aud];
  return named.some((one) => typeof one === 'string' && audiences.includes(one));
}

function timeFault(
  { exp, iat, nbf }: UnverifiedToken['claims'],
  { nowS, maxAgeS, skewS }: TokenRules,
): RefusalReason | undefined {
  if (typeof exp !== 'number' || typeof iat !== 'number') return 'wrong-claims';
  if (exp < iat || (nbf !== undefined && typeof nbf !== 'number')) return 'wrong-claims';
  if (exp <= nowS - skewS) return 'expired';
  if (iat > nowS + skewS || (nbf !== undefined && nbf > nowS + skewS)) return 'not-yet-valid';
  // With an issue that is not in the future, this also bounds how far ahead the end may lie.
  return exp - iat > maxAgeS ? 'too-long-lived' : undefined;
}

function isShortText(claim: unknown): claim is string {
  return typeof claim === 'string' && claim !== '' && claim.length <= LONGEST_CLAIM;
}
