import express from 'express';
import request from 'supertest';
import { describe, expect, it } from 'vitest';
import { pageHeaders } from '../../../src/server/security/headers.js';
import { ask, productionApp, token } from '../auth/tokens.js';
import { ORDER_PATH, orderCall, post, testApp } from '../test-service.js';

const NOTHING = "default-src 'none';base-uri 'none';form-action 'none';frame-ancestors 'none'";

describe('the headers of an answer', () => {
  it('let nothing of it be run, framed, guessed at or kept, whatever the answer is', async () => {
    const app = testApp();
    const replies = [
      await post(app, ORDER_PATH, orderCall()),
      await post(app, ORDER_PATH, '{'),
      await post(app, `${ORDER_PATH}/feedback`, {}),
      await post(app, '/fhir/nothing', {}),
      await request(app).get('/cds-services'),
      await request(app).get('/nothing'),
      await request(app).get('/health'),
      await request(app).put(ORDER_PATH),
      await ask(productionApp(), undefined),
      await ask(productionApp(), `Bearer ${token()}`, { body: orderCall() }),
      // Outside the path of the public URL.
      await request(productionApp()).get('/'),
    ];
    expect(replies.map(({ status }) => status)).toEqual([
      200, 400, 400, 404, 200, 404, 200, 405, 401, 200, 404,
    ]);
    for (const { headers } of replies as readonly { readonly headers: Readonly<Record<string, string>> }[]) {
      // OWASP HTTP Headers and REST Security cheat sheets.
      expect(headers).toMatchObject({
        'content-security-policy': NOTHING,
        'cache-control': 'no-store',
        'x-content-type-options': 'nosniff',
        'x-frame-options': 'DENY',
        'referrer-policy': 'no-referrer',
      });
      expect(headers).not.toHaveProperty('x-powered-by');
      expect(headers).not.toHaveProperty('server');
      expect(headers).not.toHaveProperty('set-cookie');
    }
  });

  it('[G1] ask browsers for TLS from then on in production, and only there', async () => {
    // RFC 6797 section 7.2: not over http.
    expect((await request(testApp()).get('/health')).headers).not.toHaveProperty('strict-transport-security');
    const { headers } = await ask(productionApp(), undefined);
    expect(headers['strict-transport-security']).toBe('max-age=31536000');
  });

  it('let the pages that are listed frame ours, and no others', async () => {
    const app = testApp({ frameAncestors: ["'self'", 'https://chart.example'] });
    const { headers } = await request(app).get('/health');
    expect(headers['content-security-policy']).toContain("frame-ancestors 'self' https://chart.example");
    // The older header can not list an origin; two headers that disagree would be settled by the browser.
    expect(headers).not.toHaveProperty('x-frame-options');
  });

  it('let a printable page have its own stylesheet and nothing more', async () => {
    const app = express();
    app.use(pageHeaders({ mode: 'development', frameAncestors: [] }));
    app.get('/', (_request, response) => {
      response.send('page');
    });
    const { headers } = await request(app).get('/');
    expect(headers['content-security-policy']).toBe(`${NOTHING};style-src 'self'`);
  });
});
