import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { loadClients } from '../../../src/server/auth/clients-file.js';
import { EC, ecKey, RSA, rsaKey } from './tokens.js';

const folder = mkdtempSync(join(tmpdir(), 'kotyle-clients-'));
const path = join(folder, 'clients.json');

afterAll(() => {
  rmSync(folder, { recursive: true });
});

function load(content: unknown): ReturnType<typeof loadClients> {
  writeFileSync(path, typeof content === 'string' ? content : JSON.stringify(content));
  return loadClients(path);
}

type Members = Readonly<Record<string, unknown>>;

function one(change: Members = {}): { readonly clients: readonly Members[] } {
  return { clients: [{ iss: 'https://record.example/', jku: ['https://record.example/jwks'], ...change }] };
}

function faultsOf(content: unknown): string {
  try {
    load(content);
  } catch (error) {
    return (error as Error).message;
  }
  return 'no fault';
}

describe('the clients file', () => {
  it('[S5] takes ES384 and RS384 where a client lists nothing, and nothing else by itself', () => {
    expect(load(one())).toEqual([
      {
        iss: 'https://record.example/',
        jku: ['https://record.example/jwks'],
        jkuOnPrivateNetwork: false,
        keys: [],
        algorithms: ['ES384', 'RS384'],
      },
    ]);
  });

  it('takes keys exchanged out of band, and all that one client may be held to', () => {
    const whole = {
      jku: undefined,
      keys: [EC.jwk, { ...RSA.jwk, alg: 'RS384', use: 'sig', key_ops: ['verify'] }],
      algorithms: ['RS384', 'PS384'],
      tenants: ['north'],
      services: ['hip-stability-order', 'fhir'],
      fhirServers: ['https://record.example/fhir/'],
      callsPerMinute: 600,
    };
    const [read] = load(one(whole));
    expect(read?.keys.map(({ kid }) => kid)).toEqual([EC.jwk.kid, RSA.jwk.kid]);
    expect(read).toMatchObject({ tenants: ['north'], services: ['hip-stability-order', 'fhir'] });
    // As the service compares the fhirServer of a call: without one trailing slash.
    expect(read?.fhirServers).toEqual(['https://record.example/fhir']);
    expect(read?.callsPerMinute).toBe(600);
  });

  const key = (change: Members): unknown => one({ jku: undefined, keys: [{ ...EC.jwk, ...change }] });
  const faults: readonly (readonly [string, unknown, RegExp])[] = [
    ['no file of its form', [], /clients\.json: expected object, found a list of 0$/m],
    ['not JSON', '{"clients":', /clients\.json: expected object, found "not JSON"$/m],
    ['no client', { clients: [] }, /clients\.json at clients: expected .*>=1.*, found a list of 0$/m],
    [
      'an unknown member',
      { ...one(), client: 1 },
      /clients\.json: expected no member client, found an object$/m,
    ],
    [
      'an unknown member of a client',
      one({ secret: 'hunter2' }),
      /at clients\[0\]: expected no member secret, found an object$/m,
    ],
    ['no iss', one({ iss: undefined }), /at clients\[0\]\.iss: expected string, found nothing$/m],
    [
      'one iss twice',
      { clients: [...one().clients, ...one().clients] },
      /at clients\[1\]\.iss: expected an iss of its own, found "https:\/\/record\.example\/"$/m,
    ],
    [
      'neither keys nor an address of keys',
      one({ jku: undefined }),
      /at clients\[0\]\.jku: expected jku, keys or both, found nothing$/m,
    ],
    [
      'an http address of keys',
      one({ jku: ['http://record.example/jwks'] }),
      /at clients\[0\]\.jku\[0\]: expected an https URL.*, found "http:\/\/record\.example\/jwks"$/m,
    ],
    [
      'an address with a password',
      one({ jku: ['https://a:b@record.example/jwks'] }),
      /jku\[0\]: expected an https/,
    ],
    [
      'an address with a fragment',
      one({ jku: ['https://record.example/jwks#a'] }),
      /jku\[0\]: expected an https/,
    ],
    ['an address that is none', one({ jku: ['jwks'] }), /jku\[0\]: expected an https/],
    [
      '[S4] the algorithm none',
      one({ algorithms: ['none'] }),
      /algorithms\[0\]: expected one of ES256.*found "none"$/m,
    ],
    ['[S4] a symmetric algorithm', one({ algorithms: ['HS384'] }), /algorithms\[0\]: .*found "HS384"$/m],
    ['no algorithm', one({ algorithms: [] }), /algorithms: expected .*>=1/],
    [
      'an unknown service',
      one({ services: ['hip'] }),
      /services\[0\]: expected one of hip-stability-.*found "hip"$/m,
    ],
    ['an empty list of tenants', one({ tenants: [] }), /tenants: expected .*>=1/],
    [
      'a FHIR server that is none',
      one({ fhirServers: ['record'] }),
      /fhirServers\[0\]: expected the base URL/,
    ],
    ['half a call', one({ callsPerMinute: 0.5 }), /callsPerMinute: expected int, found 0\.5$/m],
    ['a key without an id', key({ kid: undefined }), /keys\[0\]\.kid: expected string, found nothing$/m],
    ['a key for encryption', key({ use: 'enc' }), /keys\[0\]\.use: expected one of sig, found a string$/m],
    ['a key of an unknown kind', key({ kty: 'oct' }), /keys\[0\]\.kty: expected .*, found a string$/m],
    ['a key of no curve', key({ crv: 'secp256k1' }), /keys\[0\]\.crv: expected one of P-256/],
    [
      'a key that is no point of its curve',
      key({ x: 'AAAA' }),
      /keys\[0\]: expected a public key that can be used/,
    ],
    [
      'an RSA key that is too short',
      one({ jku: undefined, keys: [rsaKey('short', 1024).jwk] }),
      /keys\[0\]: expected an RSA key of at least 2048 bits/,
    ],
    [
      'two keys under one id',
      one({ jku: undefined, keys: [EC.jwk, ecKey(EC.jwk.kid).jwk] }),
      /keys\[1\]\.kid: expected a kid of its own/,
    ],
  ];
  it.each(faults)('is refused, naming file, path, expected and found: %s', (_name, content, told) => {
    expect(faultsOf(content)).toMatch(told);
  });

  it('is refused with a private key in it, of which nothing is repeated', () => {
    for (const { privateKey } of [EC, RSA]) {
      const secret = privateKey.export({ format: 'jwk' });
      const told = faultsOf(one({ jku: undefined, keys: [{ ...secret, kid: 'a' }] }));
      expect(told).toMatch(/keys\[0\]\.d: expected a public key, without the members of the private one/);
      for (const part of [secret.d, secret.p, secret.q, secret.x, secret.n])
        if (part !== undefined) expect(told).not.toContain(part.slice(0, 12));
    }
    const symmetric = { kty: 'oct', kid: 'a', k: 'Zqxsecret-Zqxsecret' };
    expect(faultsOf(one({ jku: undefined, keys: [symmetric] }))).toMatch(
      /keys\[0\]\.k: expected a public key/,
    );
    expect(faultsOf(one({ jku: undefined, keys: [symmetric] }))).not.toContain('Zqxsecret');
  });

  it('is refused with every fault at once, and by its path when it is not there', () => {
    const told = faultsOf({ clients: [{ iss: '', jku: ['x'], tenants: [] }] });
    expect(told.match(/clients\.json at /g)).toHaveLength(3);
    expect(() => loadClients(join(folder, 'nothing.json'))).toThrow(/nothing\.json has faults:\n.*ENOENT/);
  });
});
