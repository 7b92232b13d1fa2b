import { generateKeyPairSync } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import { orderCall } from '../test-service.js';
import {
  ask,
  assembled,
  capture,
  client,
  EC,
  ecKey,
  hmac,
  ISS,
  KID,
  leaksOf,
  NOW_S,
  productionApp,
  PUBLIC_URL,
  RSA,
  SERVICE_URL,
  signedBy,
  STRANGER,
  token,
  unsigned,
} from './tokens.js';

const { log, lines, refusals } = capture();
const app = productionApp({ log });

/** Refused with the one answer every refusal gets; tells why, from the log. */
async function refusalOf(authorization: string | undefined): Promise<unknown> {
  const before = refusals().length;
  const reply = await ask(app, authorization);
  // S12, E5, E10: 401, no body, nothing in it or its headers that says why.
  expect(reply.status).toBe(401);
  expect(reply.text).toBe('');
  expect(reply.headers['www-authenticate']).toBe('Bearer');
  expect(reply.headers['content-type']).toBeUndefined();
  expect(refusals()).toHaveLength(before + 1);
  const sent = authorization?.replace(/^bearer /i, '') ?? '';
  if (sent.length > 8) expect(leaksOf(lines, sent)).toEqual([]);
  return refusals().at(-1)?.['reason'];
}

function refusedToken(text: string): Promise<unknown> {
  return refusalOf(`Bearer ${text}`);
}

describe('a right token', () => {
  it('[S2] is answered with advice, signed by either recommended algorithm', async () => {
    for (const text of [
      token(),
      token({ header: { alg: 'RS384', kid: 'record-rsa' } }, signedBy(RSA)),
      // RFC 7519 section 4.1.3: a list that names the service among others.
      token({ claims: { aud: ['https://other.example', SERVICE_URL] } }),
      token({ claims: { nbf: NOW_S - 5, sub: 'record', 'com.example.more': { deep: [1] } } }),
    ]) {
      const reply = await ask(app, `Bearer ${text}`, { body: orderCall() });
      expect(reply.status, reply.text).toBe(200);
      expect(JSON.parse(reply.text)).toEqual({ cards: [] });
    }
    // RFC 9110 section 11.1: the scheme in any case.
    expect((await ask(app, `bearer ${token()}`, { body: orderCall() })).status).toBe(200);
  });
});

describe('[S1] a call without a token', () => {
  it('is refused, whatever else the header holds', async () => {
    expect(await refusalOf(undefined)).toBe('no-token');
    for (const header of ['', 'Bearer', 'Bearer ', 'Basic cmVjb3JkOnNlY3JldA==', token(), 'Bearer a.b.c.d.e'])
      expect(await refusalOf(header), header).toBe(header === '' ? 'no-token' : 'not-a-token');
  });

  it('is refused when there are two tokens', async () => {
    const reply = await ask(app, [`Bearer ${token()}`, `Bearer ${token()}`]);
    expect(reply.status).toBe(401);
    expect(refusals().at(-1)?.['reason']).toBe('not-a-token');
  });
});

describe('[S3] a token whose header', () => {
  const headers: readonly (readonly [string, Readonly<Record<string, unknown>>, string])[] = [
    ['has no typ', { typ: undefined }, 'wrong-header'],
    ['has another typ', { typ: 'at+jwt' }, 'wrong-header'],
    ['has a typ that is no text', { typ: 1 }, 'wrong-header'],
    ['has no kid', { kid: undefined }, 'wrong-header'],
    ['has an empty kid', { kid: '' }, 'wrong-header'],
    ['has a kid that is no text', { kid: 7 }, 'wrong-header'],
    ['names a key nobody listed', { kid: 'record-2' }, 'unknown-key'],
    ['reaches for a file by its kid', { kid: '../../dev/null' }, 'unknown-key'],
    ['demands an extension nobody knows', { crit: ['exp'], exp: 1 }, 'wrong-header'],
    ['demands an extension that is known', { crit: ['b64'], b64: true }, 'wrong-header'],
    ['names an algorithm nobody knows', { alg: 'XS384' }, 'wrong-algorithm'],
    ['names no algorithm', { alg: undefined }, 'wrong-algorithm'],
    ['names an algorithm that is no text', { alg: ['ES384'] }, 'wrong-algorithm'],
    ['names a key set', { jku: 'https://record.example/jwks' }, 'foreign-jku'],
  ];
  it.each(headers)('%s is refused', async (_name, header, reason) => {
    expect(await refusedToken(token({ header }))).toBe(reason);
  });

  it('brings a key, a certificate or an address of its own is not believed by them', async () => {
    const jwk = { ...STRANGER.jwk, kid: KID };
    for (const header of [{ jwk }, { x5c: ['AAAA'] }, { x5u: 'https://evil.example/cert' }])
      expect(await refusedToken(token({ header }, signedBy(STRANGER)))).toBe('wrong-signature');
  });

  it('is not JSON, or no object, is refused', async () => {
    const claims = { iss: ISS, aud: SERVICE_URL, exp: NOW_S + 60, iat: NOW_S, jti: 'x' };
    for (const header of ['{"alg":', '[]', '"ES384"', 'null', '\u0000'])
      expect(await refusedToken(assembled(header, claims, signedBy(EC))), header).toBe('not-a-token');
  });
});

describe('[S4] the algorithm', () => {
  it('none is refused, signed or not', async () => {
    for (const alg of ['none', 'None', 'NONE', 'nOnE']) {
      expect(await refusedToken(token({ header: { alg } }, unsigned)), alg).toBe('wrong-algorithm');
      expect(await refusedToken(token({ header: { alg } })), alg).toBe('wrong-algorithm');
    }
    // With the right name and no signature it is no better.
    expect(await refusedToken(token({}, unsigned))).toBe('wrong-signature');
  });

  it('with a shared secret is refused, also where the secret is the public key in any of its forms', async () => {
    const { publicKey } = RSA;
    const secrets = [
      publicKey.export({ type: 'spki', format: 'pem' }),
      publicKey.export({ type: 'pkcs1', format: 'pem' }),
      publicKey.export({ type: 'spki', format: 'der' }),
      JSON.stringify(RSA.jwk),
      RSA.jwk.n ?? '',
      Buffer.from(RSA.jwk.n ?? '', 'base64url'),
      '',
    ];
    for (const secret of secrets)
      for (const alg of ['HS256', 'HS384', 'HS512'] as const) {
        const header = { alg, kid: 'record-rsa' };
        const signature = hmac(secret, `sha${alg.slice(2)}`);
        expect(await refusedToken(token({ header }, signature)), alg).toBe('wrong-algorithm');
        // The same signature under an algorithm that is taken.
        expect(await refusedToken(token({ header: { ...header, alg: 'RS384' } }, signature))).toBe(
          'wrong-signature',
        );
      }
  });

  it('[S5] of another length or kind than the list is refused, unless the list names it', async () => {
    const small = ecKey('record-small', 'P-256');
    const cases = [
      [{ alg: 'RS256', kid: 'record-rsa' }, signedBy(RSA, 'sha256')],
      [{ alg: 'ES256', kid: 'record-small' }, signedBy(small, 'sha256')],
    ] as const;
    for (const [header, signature] of cases) {
      expect(await refusedToken(token({ header }, signature))).toBe('wrong-algorithm');
      const listed = client({ algorithms: [header.alg], keys: [RSA.jwk, small.jwk] });
      const wider = productionApp({ clients: [listed] });
      expect((await ask(wider, `Bearer ${token({ header }, signature)}`)).status).toBe(400);
      // And then only it.
      expect((await ask(wider, `Bearer ${token()}`)).status).toBe(401);
    }
  });

  it('that is not that of the key is refused: key confusion', async () => {
    const small = ecKey('record-small', 'P-256');
    const mixed = capture();
    const keys = [EC.jwk, RSA.jwk, small.jwk, { ...EC.jwk, kid: 'record-said', alg: 'ES256' }];
    const confused = productionApp({ log: mixed.log, clients: [client({ keys })] });
    for (const [header, signature] of [
      [{ alg: 'ES384', kid: 'record-rsa' }, signedBy(RSA)],
      [{ alg: 'RS384', kid: KID }, signedBy(EC)],
      [{ alg: 'ES384', kid: 'record-small' }, signedBy(small)],
      [{ alg: 'ES384', kid: 'record-said' }, signedBy(EC)],
    ] as const) {
      expect((await ask(confused, `Bearer ${token({ header }, signature)}`)).status, header.kid).toBe(401);
      expect(mixed.refusals().at(-1)?.['reason'], header.kid).toBe('unknown-key');
    }
  });
});

describe('[S6] a token whose claims', () => {
  const claims: readonly (readonly [string, Readonly<Record<string, unknown>>, string])[] = [
    ['have no iss', { iss: undefined }, 'unknown-issuer'],
    ['have another iss', { iss: 'https://other.example/' }, 'unknown-issuer'],
    ['have the iss without its slash', { iss: 'https://record.example' }, 'unknown-issuer'],
    ['have the iss in capitals', { iss: ISS.toUpperCase() }, 'unknown-issuer'],
    ['have several iss', { iss: [ISS] }, 'unknown-issuer'],
    ['have an iss of every object', { iss: '__proto__' }, 'unknown-issuer'],
    ['have no aud', { aud: undefined }, 'wrong-audience'],
    ['have an aud that is no text', { aud: { url: SERVICE_URL } }, 'wrong-audience'],
    ['have an empty list of aud', { aud: [] }, 'wrong-audience'],
    ['have no exp', { exp: undefined }, 'wrong-claims'],
    ['have an exp in letters', { exp: String(NOW_S + 60) }, 'wrong-claims'],
    ['have no iat', { iat: undefined }, 'wrong-claims'],
    ['have an iat in letters', { iat: String(NOW_S) }, 'wrong-claims'],
    ['have an nbf in letters', { nbf: String(NOW_S) }, 'wrong-claims'],
    ['have no jti', { jti: undefined }, 'wrong-claims'],
    ['have an empty jti', { jti: '' }, 'wrong-claims'],
    ['have a jti that is no text', { jti: 12 }, 'wrong-claims'],
    ['have a jti without end', { jti: 'j'.repeat(300) }, 'wrong-claims'],
    ['have a tenant that is no text', { tenant: ['north'] }, 'wrong-claims'],
    ['have an empty tenant', { tenant: '' }, 'wrong-claims'],
  ];
  it.each(claims)('%s is refused', async (_name, change, reason) => {
    expect(await refusedToken(token({ claims: change }))).toBe(reason);
  });

  it('are not JSON, or no object, is refused', async () => {
    const header = { alg: 'ES384', typ: 'JWT', kid: KID };
    for (const payload of ['{"iss":', '[]', 'null', '"iss"', '', '\u0000'])
      expect(await refusedToken(assembled(header, payload, signedBy(EC))), payload).toBe('not-a-token');
  });
});

describe('[S7] a token for another audience', () => {
  const others: readonly (readonly [string, string])[] = [
    ['another service', `${PUBLIC_URL}/cds-services/hip-stability-booking`],
    ['discovery', `${PUBLIC_URL}/cds-services`],
    ['feedback of this service', `${SERVICE_URL}/feedback`],
    ['the base', PUBLIC_URL],
    ['a trailing slash', `${SERVICE_URL}/`],
    ['the host in capitals', SERVICE_URL.replace('hip.hospital.example', 'HIP.hospital.example')],
    ['the path in capitals', SERVICE_URL.replace('hip-stability', 'HIP-STABILITY')],
    ['the default port written out', SERVICE_URL.replace('.example/', '.example:443/')],
    ['another port', SERVICE_URL.replace('.example/', '.example:8443/')],
    ['http', SERVICE_URL.replace('https:', 'http:')],
    ['another host', SERVICE_URL.replace('hip.', 'hop.')],
    ['another prefix', SERVICE_URL.replace('/kotyle', '')],
    ['a query', `${SERVICE_URL}?x=1`],
    ['a way round', `${PUBLIC_URL}/cds-services/../cds-services/hip-stability-order`],
    ['a space', ` ${SERVICE_URL}`],
    ['all', '*'],
  ];
  it.each(others)('is refused: %s', async (_name, aud) => {
    expect(await refusedToken(token({ claims: { aud } }))).toBe('wrong-audience');
    expect(await refusedToken(token({ claims: { aud: [aud] } }))).toBe('wrong-audience');
  });
});

describe('[S13] the times of a token', () => {
  // The defaults: 300 s from issue to end, 30 s between the clocks.
  const times: readonly (readonly [string, Readonly<Record<string, number>>, string])[] = [
    ['ended within the skew', { iat: NOW_S - 200, exp: NOW_S - 29 }, 'taken'],
    ['ended at the end of the skew', { iat: NOW_S - 200, exp: NOW_S - 30 }, 'expired'],
    ['ended long ago', { iat: NOW_S - 90_000, exp: NOW_S - 86_400 }, 'expired'],
    ['issued within the skew ahead', { iat: NOW_S + 30, exp: NOW_S + 60 }, 'taken'],
    ['issued beyond the skew ahead', { iat: NOW_S + 31, exp: NOW_S + 60 }, 'not-yet-valid'],
    ['not valid before a moment within the skew', { nbf: NOW_S + 30 }, 'taken'],
    ['not valid before a moment beyond it', { nbf: NOW_S + 31 }, 'not-yet-valid'],
    ['valid for as long as may be', { iat: NOW_S, exp: NOW_S + 300 }, 'taken'],
    ['valid for a second longer', { iat: NOW_S, exp: NOW_S + 301 }, 'too-long-lived'],
    ['valid for longer from an issue in the past', { iat: NOW_S - 100, exp: NOW_S + 201 }, 'too-long-lived'],
    ['valid without end', { exp: 1e308 }, 'too-long-lived'],
    ['ended before it was issued', { iat: NOW_S, exp: NOW_S - 10 }, 'wrong-claims'],
  ];
  it.each(times)('[S10] %s', async (_name, claims, expected) => {
    const text = token({ claims });
    if (expected === 'taken') expect((await ask(app, `Bearer ${text}`)).status).toBe(400);
    else expect(await refusedToken(text)).toBe(expected);
  });
});

describe('a forged token', () => {
  it('signed by somebody else under the right key id is refused', async () => {
    expect(await refusedToken(token({}, signedBy(STRANGER)))).toBe('wrong-signature');
  });

  it('changed after it was signed is refused, whichever part was changed', async () => {
    const [header = '', payload = '', signature = ''] = token().split('.');
    const swap = (part: string): string => {
      const middle = Math.floor(part.length / 2);
      return `${part.slice(0, middle)}${part[middle] === 'A' ? 'B' : 'A'}${part.slice(middle + 1)}`;
    };
    expect(await refusedToken(`${header}.${payload}.${swap(signature)}`)).toBe('wrong-signature');
    expect(await refusedToken(`${header}.${payload}.${signature.slice(0, -4)}`)).toBe('wrong-signature');
    expect(await refusedToken(`${header}.${payload}.`)).toBe('wrong-signature');
    const later = token({ claims: { exp: NOW_S + 250 } }).split('.')[1] ?? '';
    expect(await refusedToken(`${header}.${later}.${signature}`)).toBe('wrong-signature');
  });

  it('signed with a key of another kind is refused under the right name', async () => {
    const { privateKey } = generateKeyPairSync('ed25519');
    expect(await refusedToken(token({}, signedBy({ ...EC, privateKey }, null)))).toBe('wrong-signature');
  });

  it('is refused in the same words as any other, of which the client sees none', async () => {
    const sent = [
      undefined,
      'Bearer x',
      `Bearer ${token({ claims: { iss: 'x' } })}`,
      `Bearer ${token({}, unsigned)}`,
    ];
    const replies = await Promise.all(sent.map((one) => ask(app, one)));
    const seen = replies.map(({ status, text, headers }) => {
      const { date, 'x-request-id': id, ...rest } = headers;
      expect([date, id].every((one) => one !== undefined)).toBe(true);
      return JSON.stringify([status, text, rest]);
    });
    expect(new Set(seen).size).toBe(1);
  });
});

describe('a token of monstrous size', () => {
  it('is refused without being looked into', async () => {
    const long = token({ claims: { pad: 'x'.repeat(7000) } });
    expect(await refusedToken(long)).toBe('not-a-token');
    expect(await refusedToken(`${'a'.repeat(12_000)}.b.c`)).toBe('not-a-token');
  });

  it('is refused by the server itself when it is larger than all headers may be', async () => {
    // RFC 6585 section 5.
    expect((await ask(app, `Bearer ${'a'.repeat(20_000)}`)).status).toBe(431);
  });
});

describe('what the log holds of a refused token', () => {
  it('is why, whether the issuer is known, and issuer, tenant and jti, short and in plain characters', async () => {
    const own = capture();
    const quiet = productionApp({ log: own.log });
    await ask(
      quiet,
      `Bearer ${token({ claims: { jti: 'jti-1', tenant: 'north', exp: NOW_S - 99, iat: 1 } })}`,
    );
    const hostile = `https://evil.example/\u001b[31m\n{"level":50}${'x'.repeat(200)}`;
    await ask(quiet, `Bearer ${token({ claims: { iss: hostile, jti: { a: 1 }, tenant: 5 } })}`);
    const [first, second] = own.refusals();
    expect(first).toMatchObject({
      reason: 'expired',
      knownIssuer: true,
      iss: ISS,
      tenant: 'north',
      jti: 'jti-1',
    });
    expect(second).toMatchObject({ reason: 'unknown-issuer', knownIssuer: false });
    expect(second).not.toHaveProperty('jti');
    expect(String(second?.['iss'])).toMatch(/^https:\/\/evil\.example\/[\w?:.~@/-]{0,43}$/);
    expect(own.lines.join('')).not.toContain('subject');
  });

  it('is bounded: whoever sends thousands does not fill it', async () => {
    const own = capture();
    const flooded = productionApp({ log: own.log });
    for (let round = 0; round < 32; round += 1)
      await Promise.all(Array.from({ length: 10 }, () => ask(flooded, undefined)));
    expect(own.refusals()).toHaveLength(300);
  });
});
