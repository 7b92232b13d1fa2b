import { createServer } from 'node:net';
import type { AddressInfo, Server } from 'node:net';
import nock from 'nock';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { NOW, orderCall } from '../test-service.js';
import { ask, capture, client, ecKey, productionApp, signedBy, token } from './tokens.js';
import type { Capture, TestKey } from './tokens.js';

const ORIGIN = 'https://keys.record.example';
const JKU = `${ORIGIN}/jwks.json`;
const MINUTE_MS = 60_000;

const first = ecKey('key-1');
const second = ecKey('key-2');

const listed = client({ jku: [JKU], keys: [] });

interface Service extends Capture {
  readonly statusOf: (key: TestKey, header?: Readonly<Record<string, unknown>>) => Promise<number>;
  readonly pass: (ms: number) => void;
}

/** The service with a clock that can be moved; tokens are made by that clock. */
function service(clients = [listed]): Service {
  const capturing = capture();
  let at = Date.parse(NOW);
  const app = productionApp({ clients, log: capturing.log, now: () => new Date(at) });
  return {
    ...capturing,
    statusOf: async (key, header = {}) => {
      const claims = { iat: at / 1000, exp: at / 1000 + 60 };
      const text = token({ header: { kid: key.jwk.kid, ...header }, claims }, signedBy(key));
      return (await ask(app, `Bearer ${text}`, { body: orderCall() })).status;
    },
    pass: (ms) => {
      at += ms;
    },
  };
}

function publish(keys: readonly unknown[], headers: Readonly<Record<string, string>> = {}): nock.Scope {
  return nock(ORIGIN).get('/jwks.json').reply(200, { keys }, headers);
}

/** The hosts asked for anything from now on, other than the service under test. */
function outbound(): readonly string[] {
  const hosts: string[] = [];
  nock.emitter.on('no match', (request: { readonly host?: string }) => {
    if (!request.host?.startsWith('127.0.0.1')) hosts.push(String(request.host));
  });
  return hosts;
}

// Servers of this machine have no certificates and no names: a key set behind https is intercepted instead.
describe('a published key set', () => {
  beforeAll(() => {
    nock.disableNetConnect();
    nock.enableNetConnect(/^127\.0\.0\.1/);
  });
  afterEach(() => {
    nock.cleanAll();
    nock.emitter.removeAllListeners('no match');
  });
  afterAll(() => {
    nock.enableNetConnect();
    nock.restore();
  });

  it('[S8] is read at the address the client lists, with and without a jku that says so, and once', async () => {
    const { statusOf } = service();
    const asked = publish([first.jwk]);
    expect(await statusOf(first)).toBe(200);
    expect(await statusOf(first, { jku: JKU })).toBe(200);
    expect(asked.isDone()).toBe(true);
  });

  it('[S8] is read nowhere else: another address is refused without asking there', async () => {
    const { statusOf, refusals } = service();
    const asked = outbound();
    for (const jku of [
      'https://evil.example/jwks.json',
      'http://keys.record.example/jwks.json',
      `${JKU}/`,
      `${JKU}?x=1`,
      `${JKU}#x`,
      'https://keys.record.example:443/jwks.json',
      'https://KEYS.record.example/jwks.json',
      'https://keys.record.example@evil.example/jwks.json',
      `${ORIGIN}/../jwks.json`,
      'file:///etc/passwd',
      'data:application/json,{}',
      '',
    ]) {
      expect(await statusOf(first, { jku }), jku).toBe(401);
      expect(refusals().at(-1)?.['reason'], jku).toBe('foreign-jku');
    }
    for (const jku of [null, 5, [JKU], {}]) expect(await statusOf(first, { jku })).toBe(401);
    expect(asked).toEqual([]);
    // Whoever looks for requests must be able to see one.
    const evil = 'https://evil.example/jwks.json';
    expect(await service([client({ jku: [evil], keys: [] })]).statusOf(first)).toBe(401);
    expect(asked).toEqual(['evil.example:443']);
  });

  it('is not left by a redirect', async () => {
    const { statusOf, lines } = service();
    nock(ORIGIN).get('/jwks.json').reply(302, '', { location: 'https://evil.example/jwks.json' });
    const elsewhere = nock('https://evil.example')
      .get('/jwks.json')
      .reply(200, { keys: [first.jwk] });
    expect(await statusOf(first)).toBe(401);
    expect(elsewhere.isDone()).toBe(false);
    expect(lines.join('')).toContain('"why":"status 302"');
  });

  const bad: readonly (readonly [string, nock.Body, string])[] = [
    ['is larger than any', JSON.stringify({ keys: [], pad: 'x'.repeat(70_000) }), 'too large'],
    ['has more keys than any', { keys: Array.from({ length: 101 }, () => first.jwk) }, 'too many keys'],
    ['is not JSON', '<html>log in</html>', 'not JSON'],
    ['is no key set', { key: first.jwk }, 'not a key set'],
    ['is nothing', '', 'not JSON'],
  ];
  it.each(bad)('that %s is not used', async (_name, body, why) => {
    const { statusOf, lines, refusals } = service();
    nock(ORIGIN).get('/jwks.json').reply(200, body);
    expect(await statusOf(first)).toBe(401);
    expect(refusals().at(-1)?.['reason']).toBe('keys-unavailable');
    expect(lines.join('')).toContain(`"why":"${why}"`);
  });

  it('whose answer does not come in time is not used', async () => {
    const { statusOf, lines } = service();
    nock(ORIGIN)
      .get('/jwks.json')
      .delay(4_000)
      .reply(200, { keys: [first.jwk] });
    expect(await statusOf(first)).toBe(401);
    expect(lines.join('')).toContain('"why":"no answer in time"');
  });

  it('is used without the keys that can not be, and without one published with its secret', async () => {
    const { statusOf } = service();
    const secret = ecKey('key-3');
    publish([
      { kty: 'oct', kid: 'key-0', k: 'c2VjcmV0' },
      { kty: 'EC', crv: 'P-384', x: 'AAAA', y: 'AAAA', kid: 'key-9' },
      secret.privateKey.export({ format: 'jwk' }),
      { ...secret.privateKey.export({ format: 'jwk' }), kid: 'key-3' },
      null,
      'key',
      { ...second.jwk, use: 'enc' },
      { ...first.jwk, x5c: ['AAAA'], nbf: 1 },
    ]);
    expect(await statusOf(first)).toBe(200);
    expect(await statusOf(second)).toBe(401);
    expect(await statusOf(secret)).toBe(401);
  });

  it('with two keys under one id is not used for it', async () => {
    const { statusOf, refusals } = service();
    publish([first.jwk, { ...second.jwk, kid: 'key-1' }]);
    expect(await statusOf(first)).toBe(401);
    expect(refusals().at(-1)?.['reason']).toBe('unknown-key');
  });

  it('[S11] that was rotated is read again when a token names a key that is not in it, at most once a minute', async () => {
    const { statusOf, pass } = service();
    publish([first.jwk]);
    expect(await statusOf(first)).toBe(200);
    // Within the minute nothing is asked, however many unknown keys are named.
    const rotated = publish([second.jwk]);
    for (const key of [second, ecKey('key-x'), ecKey('key-y')]) expect(await statusOf(key)).toBe(401);
    expect(rotated.isDone()).toBe(false);
    pass(MINUTE_MS);
    expect(await statusOf(second)).toBe(200);
    expect(rotated.isDone()).toBe(true);
    // The old key is gone with its set.
    expect(await statusOf(first)).toBe(401);
  });

  it('[S11] is asked for once by all who wait for it', async () => {
    const { statusOf } = service();
    let times = 0;
    nock(ORIGIN)
      .persist()
      .get('/jwks.json')
      .reply(200, () => {
        times += 1;
        return { keys: [first.jwk] };
      });
    const statuses = await Promise.all(Array.from({ length: 10 }, () => statusOf(first)));
    expect(new Set(statuses)).toEqual(new Set([200]));
    expect(times).toBe(1);
  });

  // RFC 9111 section 5.2.2, within our bounds: no less than a minute, no more than a day, ten minutes when nothing is said.
  const ages: readonly (readonly [string | undefined, number])[] = [
    [undefined, 10],
    ['max-age=1800', 30],
    ['public, Max-Age="1800", must-revalidate', 30],
    ['max-age=1', 1],
    ['no-cache, max-age=1800', 1],
    ['no-store', 1],
    ['max-age=99999999', 24 * 60],
  ];
  it.each(ages)('[S11] with Cache-Control %s is kept for %d minutes', async (cacheControl, minutes) => {
    const { statusOf, pass } = service();
    publish([first.jwk], cacheControl === undefined ? {} : { 'cache-control': cacheControl });
    expect(await statusOf(first)).toBe(200);
    const again = publish([first.jwk, second.jwk]);
    pass(minutes * MINUTE_MS - 1000);
    expect(await statusOf(first)).toBe(200);
    expect(again.isDone()).toBe(false);
    pass(1000);
    expect(await statusOf(first)).toBe(200);
    expect(again.isDone()).toBe(true);
  });

  it('that can no longer be read is used for an hour more, and then no token passes', async () => {
    const { statusOf, pass, lines } = service();
    publish([first.jwk]);
    expect(await statusOf(first)).toBe(200);
    nock(ORIGIN).persist().get('/jwks.json').reply(500);
    pass(11 * MINUTE_MS);
    expect(await statusOf(first)).toBe(200);
    expect(lines.join('')).toContain('key set could not be read');
    pass(58 * MINUTE_MS);
    expect(await statusOf(first)).toBe(200);
    pass(MINUTE_MS);
    expect(await statusOf(first)).toBe(401);
  });

  it('that could never be read is asked for again after five seconds', async () => {
    const { statusOf, pass } = service();
    nock(ORIGIN).get('/jwks.json').replyWithError('nobody there');
    expect(await statusOf(first)).toBe(401);
    const later = publish([first.jwk]);
    pass(4_999);
    expect(await statusOf(first)).toBe(401);
    pass(1);
    expect(await statusOf(first)).toBe(200);
    expect(later.isDone()).toBe(true);
  });

  it('among several is the one that holds the key, also while another cannot be read', async () => {
    const jku = [`${ORIGIN}/a`, `${ORIGIN}/b`];
    const { statusOf, refusals } = service([client({ jku, keys: [] })]);
    nock(ORIGIN).persist().get('/a').reply(500);
    nock(ORIGIN)
      .get('/b')
      .reply(200, { keys: [second.jwk] });
    expect(await statusOf(second)).toBe(200);
    expect(await statusOf(first)).toBe(401);
    expect(refusals().at(-1)?.['reason']).toBe('keys-unavailable');
  });
});

describe('[S8] a key set on a private network', () => {
  /** Counts connections: a TLS handshake that began would be one. */
  async function counting(): Promise<{
    readonly server: Server;
    readonly port: number;
    count: () => number;
  }> {
    let count = 0;
    const server = createServer((socket) => {
      count += 1;
      socket.destroy();
    });
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    return { server, port: (server.address() as AddressInfo).port, count: () => count };
  }

  it('is not connected to by address or by name, unless the clients file allows it', async () => {
    const { server, port, count } = await counting();
    try {
      for (const host of [
        '127.0.0.1',
        'localhost',
        '[::ffff:127.0.0.1]',
        '2130706433',
        '0x7f.1',
        '0177.0.0.1',
      ]) {
        const jku = [`https://${host}:${port}/jwks.json`];
        const { statusOf, lines } = service([client({ jku, keys: [] })]);
        expect(await statusOf(first), host).toBe(401);
        expect(lines.join(''), host).toContain('"why":"private address"');
        expect(count(), host).toBe(0);
      }
      const jku = [`https://127.0.0.1:${port}/jwks.json`];
      const { statusOf, lines } = service([client({ jku, keys: [], jkuOnPrivateNetwork: true })]);
      expect(await statusOf(first)).toBe(401);
      expect(lines.join('')).toContain('"why":"the connection failed"');
      expect(count()).toBe(1);
    } finally {
      server.close();
    }
  });
});
