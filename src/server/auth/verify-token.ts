import { checkClaims } from './check-claims.js';
import type { TokenRules } from './check-claims.js';
import { signatureFault } from './check-signature.js';
import type { Client } from './clients-file.js';
import type { KeySets } from './key-sets.js';
import type { Refusal } from './refusal.js';
import type { SeenTokens } from './seen-tokens.js';
import { readToken } from './token.js';

/** Who may call, where their keys come from, and what they have used. */
export interface Verifier {
  readonly clients: readonly Client[];
  readonly keySetsOf: (client: Client) => KeySets;
  readonly seen: SeenTokens;
  /** Whether a token is refused that could not be looked up among those used before. */
  readonly storeRequired: boolean;
}

export type Verdict =
  | { readonly kind: 'accepted'; readonly client: Client; readonly tenant?: string }
  | { readonly kind: 'refused'; readonly refusal: Refusal }
  /** The token is right, but nobody can tell whether it was used before. */
  | { readonly kind: 'undecided' };

/**
 * Decides about one Authorization header. The order is that of CDS Hooks' best practices: issuer, audience, time,
 * tenant, signature, and last whether the token was used before, so that only right tokens are remembered.
 */
export async function verifyToken(
  authorization: string,
  rules: TokenRules,
  verifier: Verifier,
): Promise<Verdict> {
  if (authorization === '') return refused({ reason: 'no-token', knownIssuer: false });
  const token = readToken(authorization);
  if (!token) return refused({ reason: 'not-a-token', knownIssuer: false });
  const { iss, tenant, jti } = token.claims;
  const client = verifier.clients.find((one) => one.iss === iss);
  const said = { knownIssuer: client !== undefined, iss, tenant, jti };
  if (!client) return refused({ reason: 'unknown-issuer', ...said });
  const claims = checkClaims(token, client, rules);
  if (typeof claims === 'string') return refused({ reason: claims, ...said });
  const fault = await signatureFault(token, client, rules, verifier.keySetsOf(client));
  if (fault !== undefined) return refused({ reason: fault, ...said });
  const use = await verifier.seen.use({ ...claims, untilMs: (claims.exp + rules.skewS) * 1000 });
  if (use === 'again') return refused({ reason: 'replayed', ...said });
  if (use === 'unknown' && verifier.storeRequired) return { kind: 'undecided' };
  return { kind: 'accepted', client, ...(claims.tenant !== undefined && { tenant: claims.tenant }) };
}

function refused(refusal: Refusal): Verdict {
  return { kind: 'refused', refusal };
}
