import type { Express } from 'express';
import { describe, expect, it } from 'vitest';
import { ask, client, ecKey, productionApp, signedBy, token } from '../auth/tokens.js';
import { ORDER_PATH, orderCall, post, problem, testApp } from '../test-service.js';

const OTHER = 'https://other.example/';
const otherKey = ecKey('other');

async function statuses(
  app: Express,
  count: number,
  claims: Readonly<Record<string, unknown>> = {},
): Promise<number[]> {
  const seen: number[] = [];
  for (let index = 0; index < count; index += 1)
    seen.push((await ask(app, `Bearer ${token({ claims })}`, { body: orderCall() })).status);
  return seen;
}

describe('[E7] the calls a client may make in a minute', () => {
  it('are so many, and then 429 with the time after which to come back', async () => {
    const app = productionApp({ callsPerMinute: 3 });
    expect(await statuses(app, 4)).toEqual([200, 200, 200, 429]);
    const reply = await ask(app, `Bearer ${token()}`, { body: orderCall() });
    expect(problem(reply, 429)[0]?.code).toBe('throttled');
    // RFC 6585 section 4.
    expect(reply.headers['retry-after']).toBe('60');
    // Nothing tells who else calls, or how much is left.
    expect(Object.keys(reply.headers).filter((name) => name.includes('ratelimit'))).toEqual([]);
  });

  it('are counted by client and listed tenant, not by address', async () => {
    const clients = [client({ tenants: ['north', 'south'] }), client({ iss: OTHER, keys: [otherKey.jwk] })];
    const app = productionApp({ callsPerMinute: 2, clients });
    expect(await statuses(app, 3, { tenant: 'north' })).toEqual([200, 200, 429]);
    expect(await statuses(app, 3, { tenant: 'south' })).toEqual([200, 200, 429]);
    const theirs = token({ header: { kid: 'other' }, claims: { iss: OTHER } }, signedBy(otherKey));
    expect((await ask(app, `Bearer ${theirs}`, { body: orderCall() })).status).toBe(200);
  });

  it('are not more for a client that makes up a tenant for each call', async () => {
    const app = productionApp({ callsPerMinute: 2 });
    const seen: number[] = [];
    for (const tenant of ['a', 'b', 'c']) seen.push(...(await statuses(app, 1, { tenant })));
    expect(seen).toEqual([200, 200, 429]);
  });

  it('are those of the clients file where it names a number, and without end where it says 0', async () => {
    const held = productionApp({ callsPerMinute: 1, clients: [client({ callsPerMinute: 2 })] });
    expect(await statuses(held, 3)).toEqual([200, 200, 429]);
    const free = productionApp({ callsPerMinute: 1, clients: [client({ callsPerMinute: 0 })] });
    expect(await statuses(free, 3)).toEqual([200, 200, 200]);
  });

  it('are not used up by calls that are refused: a stranger can not shut a client out', async () => {
    const app = productionApp({ callsPerMinute: 2 });
    for (let index = 0; index < 10; index += 1)
      expect((await ask(app, `Bearer ${token({}, signedBy(otherKey))}`)).status).toBe(401);
    expect(await statuses(app, 2)).toEqual([200, 200]);
  });

  it('are all those of a development service together, where a number is set, and without end otherwise', async () => {
    const app = testApp({ callsPerMinute: 2 });
    const seen: number[] = [];
    for (let index = 0; index < 3; index += 1) seen.push((await post(app, ORDER_PATH, orderCall())).status);
    expect(seen).toEqual([200, 200, 429]);
  });
});
