import request from 'supertest';
import { describe, expect, it } from 'vitest';
import { cardsOf, ORDER_PATH, orderCall, post, testApp } from './test-service.js';
import type { Reply } from './test-service.js';

const LISTED = 'https://chart.example';
const ALSO_LISTED = 'http://localhost:8080';
const STRANGER = 'https://evil.example';

const open = testApp({ corsOrigins: [LISTED, ALSO_LISTED] });
const closed = testApp();

async function preflight(app: ReturnType<typeof testApp>, origin: string, path = ORDER_PATH): Promise<Reply> {
  const pending = request(app).options(path).set({
    Origin: origin,
    'Access-Control-Request-Method': 'POST',
    'Access-Control-Request-Headers': 'content-type,authorization',
  });
  return await pending;
}

/** All response headers of CORS. */
function corsHeaders(reply: Reply): readonly string[] {
  return Object.keys(reply.headers).filter((name) => name.startsWith('access-control-'));
}

describe('cross-origin access', () => {
  it('is off by default: no origin is told anything', async () => {
    // X2.
    expect(corsHeaders(await preflight(closed, LISTED))).toEqual([]);
    const answer = await post(closed, ORDER_PATH, orderCall(), {
      'Content-Type': 'application/json',
      Origin: LISTED,
    });
    expect(corsHeaders(answer)).toEqual([]);
    expect(cardsOf(answer)).toEqual([]);
  });

  it('answers the preflight of a listed origin with the methods and headers of CDS Hooks', async () => {
    for (const origin of [LISTED, ALSO_LISTED]) {
      for (const path of [ORDER_PATH, '/cds-services']) {
        const reply = await preflight(open, origin, path);
        // X2, X3.
        expect(reply.status).toBe(204);
        expect(reply.headers['access-control-allow-origin']).toBe(origin);
        expect(reply.headers['access-control-allow-methods']).toBe('GET, POST, OPTIONS');
        expect(reply.headers['access-control-allow-headers']).toBe('Authorization, Content-Type');
        expect(reply.headers['access-control-allow-credentials']).toBeUndefined();
      }
    }
  });

  it('does not name an unlisted origin, one that merely looks alike, or none at all', async () => {
    for (const origin of [
      STRANGER,
      'null',
      `${LISTED}.evil.example`,
      `${LISTED}:8443`,
      'http://chart.example',
      LISTED.toUpperCase(),
    ]) {
      // X2; Fetch standard, CORS check: origins are compared byte by byte.
      expect(corsHeaders(await preflight(open, origin)), origin).toEqual([]);
    }
  });

  it('lets a listed origin read answers and refusals, and says that they vary', async () => {
    const headers = { 'Content-Type': 'application/json', Origin: LISTED };
    const answers = [
      await post(open, ORDER_PATH, orderCall(), headers),
      await post(open, ORDER_PATH, '{', headers),
      await post(open, '/nowhere', '{}', headers),
      (await request(open).get('/cds-services').set('Origin', LISTED)) as Reply,
    ];
    expect(answers.map(({ status }) => status)).toEqual([200, 400, 404, 200]);
    for (const reply of answers) {
      // X2, never `*`; Fetch standard, "CORS protocol and HTTP caches": Vary names Origin.
      expect(reply.headers['access-control-allow-origin']).toBe(LISTED);
      expect(reply.headers['vary']).toContain('Origin');
    }
  });

  it('says that answers vary also to those it tells nothing', async () => {
    const reply = (await request(open).get('/cds-services').set('Origin', STRANGER)) as Reply;
    // Fetch standard, "CORS protocol and HTTP caches": else a cache hands a stranger's copy to a listed origin.
    expect(reply.headers['vary']).toContain('Origin');
    expect(corsHeaders(reply)).toEqual([]);
  });

  it('does not take a plain OPTIONS request for a preflight', async () => {
    const reply = (await request(open).options(ORDER_PATH).set('Origin', LISTED)) as Reply;
    // Fetch standard: a preflight carries Access-Control-Request-Method.
    expect(reply.status).toBe(405);
  });
});
