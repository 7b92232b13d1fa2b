import { describe, expect, it } from 'vitest';
import {
  ask,
  client,
  EC,
  hmac,
  NOW_S,
  productionApp,
  PUBLIC_URL,
  SERVICE_URL,
  signedBy,
  STRANGER,
  token,
  unsigned,
} from '../../server/auth/tokens.js';
import type { Asked } from '../../server/auth/tokens.js';
import { orderCall } from '../../server/test-service.js';
import type { Reply } from '../../server/test-service.js';

/** Tokens of which something is wrong, each in another way. */
function wrongTokens(): readonly (string | undefined)[] {
  return [
    undefined,
    '',
    'Bearer',
    'Basic abc',
    'Bearer not-a-token',
    `Bearer ${token({ claims: { iss: 'https://stranger.example/' } })}`,
    `Bearer ${token({ claims: { aud: 'https://other.example/cds-services' } })}`,
    `Bearer ${token({ claims: { exp: NOW_S - 3600, iat: NOW_S - 3900 } })}`,
    `Bearer ${token({ claims: { jti: undefined } })}`,
    `Bearer ${token({ header: { kid: 'unknown' } })}`,
    `Bearer ${token({ header: { alg: 'none' } }, () => '')}`,
    `Bearer ${token({}, signedBy(STRANGER))}`,
  ];
}

/** What a caller can tell an answer by, but for its number and its time. */
function seen({ status, headers, text }: Reply): string {
  const own = Object.entries(headers).filter(([name]) => !['date', 'x-request-id'].includes(name));
  return JSON.stringify([status, own, text]);
}

describe('a caller who is not known', () => {
  const places: readonly Asked[] = [
    {},
    { method: 'get', path: '/cds-services' },
    { path: '/cds-services/hip-stability-order/feedback', body: { feedback: [] } },
  ];

  it('[D11, E5, E10, S12] gets the same 401 with an empty body whatever was wrong, at listing, call and feedback', async () => {
    const app = productionApp();
    for (const place of places) {
      const replies: string[] = [];
      for (const authorization of wrongTokens()) {
        const reply = await ask(app, authorization, place);
        expect(reply.status).toBe(401);
        expect(reply.text).toBe('');
        replies.push(seen(reply));
      }
      expect(new Set(replies).size).toBe(1);
    }
  });

  it('[E6] is another than one who is known and not allowed: that is 403, with an OperationOutcome', async () => {
    const app = productionApp({ clients: [client({ services: ['hip-stability-order'] })] });
    const path = '/cds-services/hip-stability-chart';
    const reply = await ask(app, `Bearer ${token({ claims: { aud: `${PUBLIC_URL}${path}` } })}`, { path });
    expect(reply.status).toBe(403);
    expect(reply.headers['content-type']).toMatch(/fhir\+json/);
  });
});

describe('a token', () => {
  const app = productionApp();
  const status = async (change: Parameters<typeof token>[0], signer = signedBy(EC)): Promise<number> =>
    (await ask(app, `Bearer ${token(change, signer)}`, { body: orderCall() })).status;

  it('[S3] needs typ JWT, a key id and an algorithm in its header', async () => {
    expect(await status({})).toBe(200);
    for (const header of [
      { typ: undefined },
      { typ: 'jwt+x' },
      { kid: undefined },
      { kid: '' },
      { kid: 7 },
      { alg: undefined },
    ])
      expect(await status({ header }), JSON.stringify(header)).toBe(401);
  });

  it('[S4] is not taken unsigned, nor signed with a secret that everybody knows', async () => {
    const secret = JSON.stringify(EC.jwk);
    expect(await status({ header: { alg: 'none' } }, unsigned)).toBe(401);
    expect(await status({ header: { alg: 'none' } })).toBe(401);
    expect(await status({ header: { alg: 'HS256' } }, hmac(secret))).toBe(401);
    expect(await status({}, hmac(secret))).toBe(401);
  });

  it('[S6] needs issuer, audience, end, issue and an id of its own', async () => {
    for (const claim of ['iss', 'aud', 'exp', 'iat', 'jti'])
      expect(await status({ claims: { [claim]: undefined } }), claim).toBe(401);
  });

  it('[S7] is for one address, letter by letter', async () => {
    const others = ['', '/', '/feedback', '-chart'].map((end) => `${PUBLIC_URL}/cds-services${end}`);
    for (const aud of [
      ...others,
      `${SERVICE_URL}/`,
      SERVICE_URL.toUpperCase(),
      SERVICE_URL.replace('https', 'http'),
      SERVICE_URL.replace('.example', '.example:443'),
    ])
      expect(await status({ claims: { aud } }), aud).toBe(401);
    expect(await status({ claims: { aud: [SERVICE_URL, 'https://other.example'] } })).toBe(200);
  });

  it('[S10, S13] lives minutes, may be a little early or late, and no more than that', async () => {
    const skew = 30;
    const lives = (from: number, to: number): Promise<number> =>
      status({ claims: { iat: NOW_S + from, exp: NOW_S + to } });
    expect(await lives(skew, skew + 300)).toBe(200);
    expect(await lives(skew + 1, skew + 100)).toBe(401);
    expect(await lives(-300, 1 - skew)).toBe(200);
    expect(await lives(-300, -skew)).toBe(401);
    expect(await lives(0, 300)).toBe(200);
    expect(await lives(0, 301)).toBe(401);
  });
});
