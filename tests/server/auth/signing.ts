import { createHmac, generateKeyPairSync, sign } from 'node:crypto';
import type { KeyObject } from 'node:crypto';
import type { Client } from '../../../src/server/auth/clients-file.js';
import type { PublicKey } from '../../../src/server/auth/public-key.js';

/** Tokens made by hand, so that each part of one can be wrong; a library would not make most of them. */

export const PUBLIC_URL = 'https://hip.hospital.example/kotyle';
export const ISS = 'https://record.example/';
export const KID = 'record-1';
/** The clock of the tests, in seconds since 1970 UTC. */
export const NOW_S = Date.UTC(2026, 10, 24, 10) / 1000;

export interface TestKey {
  readonly privateKey: KeyObject;
  readonly publicKey: KeyObject;
  readonly jwk: PublicKey;
}

export function ecKey(kid: string, namedCurve = 'P-384'): TestKey {
  return withJwk(kid, generateKeyPairSync('ec', { namedCurve }));
}

export function rsaKey(kid: string, modulusLength = 2048): TestKey {
  return withJwk(kid, generateKeyPairSync('rsa', { modulusLength }));
}

function withJwk(
  kid: string,
  pair: { readonly privateKey: KeyObject; readonly publicKey: KeyObject },
): TestKey {
  return { ...pair, jwk: { ...pair.publicKey.export({ format: 'jwk' }), kid } };
}

export const EC = ecKey(KID);
export const RSA = rsaKey('record-rsa');
/** Keys nobody listed. */
export const STRANGER = ecKey(KID);

/** A client as an operator would list it, with keys exchanged out of band. */
export function client(change: Partial<Client> = {}): Client {
  return {
    iss: ISS,
    jku: [],
    jkuOnPrivateNetwork: false,
    keys: [EC.jwk, RSA.jwk],
    algorithms: ['ES384', 'RS384'],
    ...change,
  };
}

type Members = Readonly<Record<string, unknown>>;
export type Signer = (input: string) => string;

export function signedBy({ privateKey }: TestKey, hash: string | null = 'sha384'): Signer {
  return (input) =>
    sign(hash, Buffer.from(input), { key: privateKey, dsaEncoding: 'ieee-p1363' }).toString('base64url');
}

export function hmac(secret: string | Buffer, hash = 'sha256'): Signer {
  return (input) => createHmac(hash, secret).update(input).digest('base64url');
}

export const unsigned: Signer = () => '';

export const SERVICE_URL = `${PUBLIC_URL}/cds-services/hip-stability-order`;

let count = 0;

/** A right token, unless changed; `undefined` takes a member out. Each has a jti of its own. */
export function token(
  { header = {}, claims = {} }: { readonly header?: Members; readonly claims?: Members } = {},
  signature: Signer = signedBy(EC),
): string {
  count += 1;
  const whole = {
    iss: ISS,
    aud: SERVICE_URL,
    exp: NOW_S + 240,
    iat: NOW_S,
    jti: `jti-${count}-${process.pid}`,
    ...claims,
  };
  return assembled({ alg: 'ES384', typ: 'JWT', kid: KID, ...header }, whole, signature);
}

/** Any header over any payload, texts as they stand. */
export function assembled(header: unknown, claims: unknown, signature: Signer): string {
  const text = (part: unknown): string => (typeof part === 'string' ? part : JSON.stringify(part));
  const part = (value: unknown): string => Buffer.from(text(value)).toString('base64url');
  const input = `${part(header)}.${part(claims)}`;
  return `${input}.${signature(input)}`;
}
