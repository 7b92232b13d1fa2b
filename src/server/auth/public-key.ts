import { createPublicKey } from 'node:crypto';
import type { JWK } from 'jose';
import { z } from 'zod';

/**
 * What a client may sign with. No `none` and no symmetric algorithm is among them: a shared secret would let whoever
 * checks a token also make one.
 */
export const ALGORITHMS = [
  'ES256',
  'ES384',
  'ES512',
  'RS256',
  'RS384',
  'RS512',
  'PS256',
  'PS384',
  'PS512',
  'EdDSA',
] as const;
export type Algorithm = (typeof ALGORITHMS)[number];

/** What CDS Hooks recommends, and all that is taken from a client that lists nothing else. */
export const DEFAULT_ALGORITHMS: readonly Algorithm[] = ['ES384', 'RS384'];

/** Members of a JSON Web Key that are secret (RFC 7518, section 6). */
const SECRET_MEMBERS = ['d', 'p', 'q', 'dp', 'dq', 'qi', 'oth', 'k'] as const;

/** RFC 7518, section 3.3: RSA keys of 2048 bits or more. */
const RSA_BITS = 2048;

const base64url = z.string().regex(/^[A-Za-z0-9_-]+$/, 'base64url');
const common = {
  kid: z.string().min(1).max(256),
  alg: z.enum(ALGORITHMS).optional(),
  use: z.literal('sig').optional(),
  key_ops: z
    .array(z.string())
    .refine((uses) => uses.includes('verify'), 'verify among them')
    .optional(),
  ext: z.boolean().optional(),
};

/** One public key. Certificates beside it are not read: the key is trusted because it stands where it stands. */
const publicKey = z
  .discriminatedUnion('kty', [
    z.object({
      kty: z.literal('EC'),
      crv: z.enum(['P-256', 'P-384', 'P-521']),
      x: base64url,
      y: base64url,
      ...common,
    }),
    z.object({ kty: z.literal('RSA'), n: base64url, e: base64url, ...common }),
    z.object({ kty: z.literal('OKP'), crv: z.literal('Ed25519'), x: base64url, ...common }),
  ])
  .superRefine((key, context) => {
    const fault = faultOf(key);
    if (fault !== undefined) context.addIssue({ code: 'custom', message: fault });
  });

/** A checked public key, in the form the cryptography takes. */
export type PublicKey = JWK & { readonly kid: string };

/** A public key as an operator writes it down: a secret member in it is refused, because it is secret no more. */
export const statedKey = z
  .looseObject({})
  .superRefine((key, context) => {
    for (const member of SECRET_MEMBERS)
      if (member in key)
        context.addIssue({
          code: 'custom',
          path: [member],
          message: 'a public key, without the members of the private one',
        });
  })
  .pipe(publicKey)
  .transform((key) => key as PublicKey);

function faultOf(key: z.output<typeof publicKey>): string | undefined {
  try {
    const { asymmetricKeyDetails } = createPublicKey({ key, format: 'jwk' });
    const bits = asymmetricKeyDetails?.modulusLength;
    return bits !== undefined && bits < RSA_BITS ? `an RSA key of at least ${RSA_BITS} bits` : undefined;
  } catch {
    return 'a public key that can be used';
  }
}

/**
 * The keys of a published set that may be used. Others are passed over, as RFC 7517, section 5, asks; so is a key that
 * was published with its secret, because anybody may have signed with it.
 */
export function usableKeys(members: readonly unknown[]): readonly PublicKey[] {
  return members.flatMap((member) => {
    const read = statedKey.safeParse(member);
    return read.success ? [read.data] : [];
  });
}
