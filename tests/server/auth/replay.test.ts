import { afterAll, describe, expect, it } from 'vitest';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openStore } from '../../../src/store/open-store.js';
import type { Store } from '../../../src/store/store.js';
import { orderCall, TEST_KEY } from '../test-service.js';
import { ask, capture, client, leaksOf, NOW_S, productionApp, signedBy, STRANGER, token } from './tokens.js';

const folder = mkdtempSync(join(tmpdir(), 'kotyle-replay-'));
const path = join(folder, 'kotyle.sqlite');

afterAll(() => {
  rmSync(folder, { recursive: true });
});

function open(): Promise<Store> {
  return openStore({ path, contentKey: TEST_KEY });
}

const body = orderCall();

describe('[S10] a token that was used', () => {
  it('is refused the second time, in this instance, in another on the same store, and after a restart', async () => {
    const { log, lines, refusals } = capture();
    const text = token();
    const store = await open();
    const first = productionApp({ store, log });
    const second = productionApp({ store, log });
    expect((await ask(first, `Bearer ${text}`, { body })).status).toBe(200);
    expect((await ask(first, `Bearer ${text}`, { body })).status).toBe(401);
    expect((await ask(second, `Bearer ${text}`, { body })).status).toBe(401);
    await store.close();
    const again = await open();
    expect((await ask(productionApp({ store: again, log }), `Bearer ${text}`, { body })).status).toBe(401);
    await again.close();
    expect(refusals().map(({ reason }) => reason)).toEqual(['replayed', 'replayed', 'replayed']);
    expect(leaksOf(lines, text)).toEqual([]);
  });

  it('passes once of twenty times at the same moment, spread over two instances on one store', async () => {
    const store = await open();
    const other = await open();
    const { log, refusals } = capture();
    const apps = [productionApp({ store, log }), productionApp({ store: other, log })];
    const text = token();
    const sent = Array.from({ length: 20 }, (_unused, index) => apps[index % 2] ?? productionApp());
    const replies = await Promise.all(sent.map((app) => ask(app, `Bearer ${text}`, { body })));
    expect(replies.filter(({ status }) => status === 200)).toHaveLength(1);
    expect(replies.filter(({ status }) => status === 401)).toHaveLength(19);
    expect(refusals().map(({ reason }) => reason)).toEqual(Array.from({ length: 19 }, () => 'replayed'));
    await store.close();
    await other.close();
  });

  it('is known by issuer and jti together: another issuer may use the same jti', async () => {
    const other = 'https://other.example/';
    const key = { ...STRANGER.jwk };
    const app = productionApp({ clients: [client(), client({ iss: other, keys: [key] })] });
    const jti = 'the-same';
    expect((await ask(app, `Bearer ${token({ claims: { jti } })}`, { body })).status).toBe(200);
    const theirs = token({ claims: { jti, iss: other } }, signedBy(STRANGER));
    expect((await ask(app, `Bearer ${theirs}`, { body })).status).toBe(200);
    expect((await ask(app, `Bearer ${token({ claims: { jti } })}`, { body })).status).toBe(401);
  });

  it('is spent by a right call only: a forged one with its jti does not shut the right one out', async () => {
    const app = productionApp();
    const jti = `spent-${NOW_S}`;
    for (const forged of [
      token({ claims: { jti } }, signedBy(STRANGER)),
      token({ claims: { jti, exp: NOW_S - 60, iat: NOW_S - 90 } }),
      token({ claims: { jti, aud: 'https://elsewhere.example' } }),
    ])
      expect((await ask(app, `Bearer ${forged}`, { body })).status).toBe(401);
    expect((await ask(app, `Bearer ${token({ claims: { jti } })}`, { body })).status).toBe(200);
  });
});

describe('a store that cannot be asked', () => {
  async function broken(): Promise<Store> {
    const store = await openStore({ path: ':memory:', contentKey: TEST_KEY });
    return { ...store, rememberToken: () => Promise.reject(new Error('the database stands still')) };
  }

  it('leaves the decision to the memory of this process where records are best effort', async () => {
    const { log, lines } = capture();
    const app = productionApp({ store: await broken(), log });
    const text = token();
    expect((await ask(app, `Bearer ${text}`, { body })).status).toBe(200);
    expect((await ask(app, `Bearer ${text}`, { body })).status).toBe(401);
    expect(lines.join('')).toContain('a token could not be remembered');
    expect(leaksOf(lines, text)).toEqual([]);
  });

  it('refuses every call where records are required, as not stored and not as unauthenticated', async () => {
    const app = productionApp({ store: await broken(), audit: 'required' });
    const reply = await ask(app, `Bearer ${token()}`, { body });
    expect(reply.status).toBe(503);
    expect(JSON.parse(reply.text)).toMatchObject({ issue: [{ code: 'no-store' }] });
  });
});
