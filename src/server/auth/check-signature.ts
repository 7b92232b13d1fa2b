import { errors, jwtVerify } from 'jose';
import type { TokenRules } from './check-claims.js';
import type { Client } from './clients-file.js';
import type { KeySets } from './key-sets.js';
import type { Algorithm, PublicKey } from './public-key.js';
import type { RefusalReason } from './refusal.js';
import type { UnverifiedToken } from './token.js';

/**
 * Holds header and signature against the keys of the client; undefined when they are right. Keys come only from the
 * clients file and the addresses in it: a key, a certificate or an address in the token itself is never used.
 */
export async function signatureFault(
  token: UnverifiedToken,
  client: Client,
  rules: TokenRules,
  keySets: KeySets,
): Promise<RefusalReason | undefined> {
  const { typ, kid, alg, jku, crit } = token.header;
  if (typ !== 'JWT' || typeof kid !== 'string' || kid === '' || crit !== undefined) return 'wrong-header';
  if (!client.algorithms.includes(alg as Algorithm)) return 'wrong-algorithm';
  if (jku !== undefined && !client.jku.includes(jku)) return 'foreign-jku';
  const keys = await keysFor(client, { kid, jku }, keySets);
  if (!keys) return 'keys-unavailable';
  // Of several keys under one id none is the right one: the client's key set is broken.
  const [key, second] = keys.filter((one) => one.kid === kid);
  if (!key || second) return 'unknown-key';
  return await verify(token, client, rules, key);
}

/** The keys the token may be signed with; undefined when an address that may hold them could not be read. */
async function keysFor(
  client: Client,
  { kid, jku }: { readonly kid: string; readonly jku: string | undefined },
  keySets: KeySets,
): Promise<readonly PublicKey[] | undefined> {
  if (jku === undefined && client.keys.some((key) => key.kid === kid)) return client.keys;
  let isComplete = true;
  for (const url of jku === undefined ? client.jku : [jku]) {
    const keys = await keySets.keysAt(url, kid);
    if (keys?.some((key) => key.kid === kid)) return keys;
    isComplete &&= keys !== undefined;
  }
  return isComplete ? [] : undefined;
}

/** Every option is stated, so that nothing rests on a library's defaults; the claims are checked a second time here. */
async function verify(
  { text }: UnverifiedToken,
  { iss, algorithms }: Client,
  { audiences, nowS, maxAgeS, skewS }: TokenRules,
  key: PublicKey,
): Promise<RefusalReason | undefined> {
  try {
    await jwtVerify(text, key, {
      algorithms: [...algorithms],
      issuer: iss,
      audience: [...audiences],
      requiredClaims: ['iss', 'aud', 'exp', 'iat', 'jti'],
      typ: 'JWT',
      currentDate: new Date(nowS * 1000),
      clockTolerance: skewS,
      maxTokenAge: maxAgeS,
    });
    return undefined;
  } catch (error) {
    const isForged =
      error instanceof errors.JWSSignatureVerificationFailed || error instanceof errors.JWSInvalid;
    // Whatever else went wrong, the key and the algorithm did not fit each other.
    return isForged ? 'wrong-signature' : 'unknown-key';
  }
}
