import request from 'supertest';
import { describe, expect, it } from 'vitest';
import { checkServices } from '../logical-model-check.js';
import { readPublished } from '../published-models.js';
import { cardsOf, post, problem, testApp } from '../../server/test-service.js';
import type { Reply } from '../../server/test-service.js';
import { siteOf } from '../../facts/sites.js';
import { SPEAKING } from './answers.js';

interface Listed {
  readonly id: string;
  readonly hook: string;
  readonly prefetch: Readonly<Record<string, unknown>>;
  readonly [member: string]: unknown;
}

async function list(settings: Parameters<typeof testApp>[0] = {}): Promise<readonly Listed[]> {
  const reply = (await request(testApp(settings)).get('/cds-services')) as Reply;
  expect(reply.status).toBe(200);
  const body: unknown = JSON.parse(reply.text);
  expect(checkServices(body)).toEqual([]);
  return (body as { readonly services: readonly Listed[] }).services;
}

describe('the listing', () => {
  it('[D1] stands at one path: letter case, a slash at its end and a doubled slash make another', async () => {
    const app = testApp();
    expect(((await request(app).get('/cds-services')) as Reply).status).toBe(200);
    for (const path of ['/CDS-Services', '/cds-services/', '//cds-services', '/cds-services//'])
      problem(await request(app).get(path), 404);
  });

  it('[D1] stands below the path of the public URL, as do calls and feedback, and nowhere else', async () => {
    const app = testApp({ publicUrl: 'https://hip.hospital.example/tools/kotyle' });
    const below = (await request(app).get('/tools/kotyle/cds-services')) as Reply;
    expect(below.text).toContain('hip-stability-order');
    const [path, call] = SPEAKING['order-sign'] ?? ['', {}];
    expect(cardsOf(await post(app, `/tools/kotyle${path}`, call)).length).toBeGreaterThan(0);
    expect((await post(app, `/tools/kotyle${path}/feedback`, { feedback: [] })).status).toBe(200);
    for (const other of [
      '/cds-services',
      '/tools/cds-services',
      '/tools/kotylecds-services',
      '/tools/KOTYLE/cds-services',
    ])
      problem(await request(app).get(other), 404);
    expect(((await request(app).get('/health')) as Reply).status).toBe(200);
  });

  it('[D1] is answered to HEAD as to GET, without the body', async () => {
    const app = testApp();
    const whole = (await request(app).get('/cds-services')) as Reply;
    const head = (await request(app).head('/cds-services')) as Reply;
    expect(head.status).toBe(200);
    expect(head.headers['content-length']).toBe(whole.headers['content-length']);
    expect(head.text || '').toBe('');
    const refused = (await request(app).delete('/cds-services')) as Reply;
    // RFC 9110 section 9.3.2: HEAD is a method of its own.
    expect(refused.headers['allow']).toBe('GET, HEAD');
  });

  it('[D2] is an object with one list, services, and nothing beside it', async () => {
    const reply = (await request(testApp()).get('/cds-services')) as Reply;
    expect(Object.keys(JSON.parse(reply.text) as object)).toEqual(['services']);
    expect((await list()).length).toBe(4);
  });

  it('[D3, R12] is empty, with 200, where every service is turned off, and a call of one is 404', async () => {
    const services = {
      'hip-stability-booking': 'off',
      'hip-stability-order': 'off',
      'hip-stability-chart': 'off',
    };
    const installation = siteOf([{ path: 'site.json', content: { id: 's', version: '1', services } }]);
    const app = testApp({ installation });
    const reply = (await request(app).get('/cds-services')) as Reply;
    expect(`${reply.status} ${reply.text}`).toBe('200 {"services":[]}');
    for (const [path, call] of Object.values(SPEAKING)) problem(await post(app, path, call), 404);
  });

  it('[D4] gives every service a hook, a description and an id that are texts', async () => {
    for (const service of await list())
      for (const member of ['hook', 'description', 'id']) {
        expect(service[member], member).toBeTypeOf('string');
        expect(service[member]).not.toBe('');
      }
  });

  it('[D5] gives every service a title of its own entry', async () => {
    for (const service of await list()) expect(String(service['title']).length).toBeGreaterThan(10);
  });

  it('[D6] maps every prefetch key to one text, and leaves the member out nowhere', async () => {
    for (const { prefetch } of await list()) {
      expect(Object.keys(prefetch).length).toBeGreaterThan(0);
      for (const template of Object.values(prefetch)) expect(template).toBeTypeOf('string');
    }
  });

  it('[D7] says of every service what it needs and whom it is not for', async () => {
    for (const service of await list()) {
      expect(service['usageRequirements']).toMatch(/prefetch/i);
      expect(service['usageRequirements']).toMatch(/not for emergencies/i);
    }
  });

  it('[D8, D9] names its own version and those of the hooks to clients of 3.0, and neither to those of 2.0', async () => {
    for (const service of await list({ hooksVersion: '2.0.1' })) {
      // Truth: CDS Hooks 2.0.1, section Discovery: there are no such members.
      expect(service).not.toHaveProperty('version');
      expect(service).not.toHaveProperty('hookVersion');
    }
    for (const service of await list({ hooksVersion: '3.0.0' })) {
      expect(service['version']).toBe('3.0.0');
      // Truth: the CDS Hooks library: appointment-book, order-select, order-sign and patient-view are at 1.0.
      expect(service['hookVersion']).toBe('1.0');
    }
  });

  it('[D8] differs between the two versions in these members only', async () => {
    const plain = await list({ hooksVersion: '2.0.1' });
    const newer = (await list({ hooksVersion: '3.0.0' })).map((service) =>
      Object.fromEntries(Object.entries(service).filter(([name]) => !/ersion$/.test(name))),
    );
    expect(newer).toEqual(plain);
  });

  it('[D10] has one id on two hooks, and the hook of a call chooses between them', async () => {
    const ids = (await list()).filter(({ id }) => id === 'hip-stability-order').map(({ hook }) => hook);
    expect(ids).toEqual(['order-select', 'order-sign']);
    const app = testApp();
    for (const hook of ids) {
      const [path, call] = SPEAKING[hook] ?? ['', {}];
      expect(path).toBe('/cds-services/hip-stability-order');
      expect(cardsOf(await post(app, path, call)).length, hook).toBeGreaterThan(0);
    }
  });

  it('[D12] has the same bytes at every call and from every instance', async () => {
    const app = testApp();
    const texts = [app, app, testApp()].map(
      async (one) => ((await request(one).get('/cds-services')) as Reply).text,
    );
    expect(new Set(await Promise.all(texts)).size).toBe(1);
  });

  it('[D13] has ids made for a URL, none with a number of a release in it', async () => {
    for (const { id } of await list()) expect(id).toMatch(/^[a-z]+(?:-[a-z]+)*$/);
  });

  it('[D4, D6] is judged by the same models that find the published listing good', () => {
    expect(checkServices(JSON.parse(readPublished('conformance/input/cdshooks-services-good.json')))).toEqual(
      [],
    );
  });
});
