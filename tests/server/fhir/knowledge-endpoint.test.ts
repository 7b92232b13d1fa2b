import type { Bundle, OperationOutcome } from 'fhir/r4.js';
import request from 'supertest';
import { describe, expect, it } from 'vitest';
import { northCampus } from '../../facts/sites.js';
import { schemaIssues } from '../../oracles/fhir-json-schema.js';
import { fhirIssues } from '../../oracles/fhir-validity.js';
import { shipped } from '../../rulebook/shipped.js';
import { problem, testApp } from '../test-service.js';
import type { Reply } from '../test-service.js';

const app = testApp({ publicUrl: 'https://hip.example' });

async function get(path: string, headers: Readonly<Record<string, string>> = {}): Promise<Reply> {
  return await request(app).get(path).set(headers);
}

function bundleOf(reply: Reply): Bundle {
  expect(reply.status, reply.text).toBe(200);
  const bundle = JSON.parse(reply.text) as Bundle;
  expect(fhirIssues(bundle)).toEqual([]);
  return bundle;
}

function idsIn({ entry = [] }: Bundle): readonly (string | undefined)[] {
  return entry.filter(({ search }) => search?.mode === 'match').map(({ resource }) => resource?.id);
}

const TYPES = [
  'PlanDefinition',
  'Library',
  'ValueSet',
  'CodeSystem',
  'ConceptMap',
  'Questionnaire',
  'OperationDefinition',
  'CapabilityStatement',
];

describe('reading the knowledge', () => {
  it.each([
    '/fhir/metadata',
    '/fhir/PlanDefinition/neurological-disease',
    '/fhir/Library/kotyle',
    '/fhir/Library/neurological-disease',
    '/fhir/ValueSet/hip-osteoarthritis',
    '/fhir/CodeSystem/hip-measure',
    '/fhir/CodeSystem/rule',
    '/fhir/Questionnaire/hip-plan',
    '/fhir/OperationDefinition/evaluate',
    '/fhir/CapabilityStatement/kotyle',
  ])('gives a valid resource at %s, with its version as ETag', async (path) => {
    const reply = await get(path);
    expect(reply.status, reply.text).toBe(200);
    expect(reply.headers['content-type']).toBe('application/fhir+json; charset=utf-8');
    const resource = JSON.parse(reply.text) as { readonly meta: { readonly versionId: string } };
    expect(fhirIssues(resource)).toEqual([]);
    expect(schemaIssues(resource)).toEqual([]);
    // R4, 3.1.0.4.1: the ETag is the version id, weak.
    expect(reply.headers['etag']).toBe(`W/"${resource.meta.versionId}"`);
  });

  it('answers 304 to whoever has this version, and the resource to whoever has another', async () => {
    const path = '/fhir/ValueSet/hip-osteoarthritis';
    const etag = (await get(path)).headers['etag'] ?? '';
    const again = await get(path, { 'If-None-Match': etag });
    expect([again.status, again.text]).toEqual([304, '']);
    expect((await get(path, { 'If-None-Match': 'W/"other"' })).status).toBe(200);
  });

  it('answers HEAD with the headers of GET and no body', async () => {
    const got = await get('/fhir/metadata');
    const head = await request(app).head('/fhir/metadata');
    expect(head.status).toBe(200);
    expect(head.headers['etag']).toBe(got.headers['etag']);
    expect(head.text).toBeFalsy();
  });

  it('has the maps of its own site, and none without one', async () => {
    const path = '/fhir/ConceptMap';
    expect(bundleOf(await get(path)).total).toBe(0);
    const own = await request(testApp({ installation: northCampus })).get(path);
    expect(bundleOf(own).total).toBe(northCampus.conceptMaps.length);
  });
});

describe('[E9] what cannot be read', () => {
  it('is told as an OperationOutcome with the status that fits', async () => {
    problem(await get('/fhir/PlanDefinition/no-such-rule'), 404);
    problem(await get('/fhir/Patient/1'), 404);
    problem(await get('/fhir/PlanDefinition/a/b'), 404);
    problem(await request(app).delete('/fhir/PlanDefinition/neurological-disease'), 405);
    problem(await request(app).put('/fhir/PlanDefinition'), 405);
    problem(await request(app).get('/fhir/PlanDefinition/_search'), 405);
    problem(await request(app).put('/fhir/PlanDefinition/_search'), 405);
    problem(await request(app).post('/fhir/metadata'), 405);
    problem(await get('/fhir/metadata', { Accept: 'application/fhir+xml' }), 406);
    problem(await get('/fhir/metadata?_format=xml'), 406);
    problem(await get('/fhir/PlanDefinition?_format=ttl'), 406);
  });

  it('names the methods of a path in Allow', async () => {
    const reply = await request(app).post('/fhir/PlanDefinition/neurological-disease');
    expect(reply.headers['allow']).toBe('GET, HEAD');
  });

  it('is told as gone where an earlier release had it', async () => {
    const rules = shipped.rules.filter(({ id }) => id !== 'neurological-disease');
    const advisor = { rulebook: { ...shipped, rules }, decide: never, computations: {} };
    const without = testApp({ advisor });
    problem(await request(without).get('/fhir/PlanDefinition/neurological-disease'), 410);
    problem(await request(without).get('/fhir/PlanDefinition/no-such-rule'), 404);
  });
});

function never(): never {
  throw new Error('nothing is decided here');
}

describe('the form of an answer', () => {
  it.each([
    ['no wish', {}, '', 'application/fhir+json'],
    ['FHIR', { Accept: 'application/fhir+json' }, '', 'application/fhir+json'],
    ['JSON', { Accept: 'application/json' }, '', 'application/json'],
    ['a browser', { Accept: 'text/html,application/xml;q=0.9,*/*;q=0.8' }, '', 'application/fhir+json'],
    ['_format before Accept', { Accept: 'application/fhir+xml' }, '?_format=json', 'application/fhir+json'],
    ['an unescaped plus', {}, '?_format=application/fhir+json', 'application/fhir+json'],
    ['plain JSON by _format', {}, '?_format=application%2Fjson', 'application/json'],
  ])('follows %s', async (_wish, headers, query, expected) => {
    const reply = await get(`/fhir/metadata${query}`, headers);
    expect(reply.status, reply.text).toBe(200);
    expect(reply.headers['content-type']).toBe(`${expected}; charset=utf-8`);
  });
});

describe('searching the knowledge', () => {
  it.each(TYPES)('gives %s as a searchset whose links and full URLs lead here', async (type) => {
    const bundle = bundleOf(await get(`/fhir/${type}`));
    expect(bundle.type).toBe('searchset');
    expect(bundle.link?.[0]).toEqual({ relation: 'self', url: `https://hip.example/fhir/${type}` });
    for (const { fullUrl, resource } of bundle.entry ?? [])
      expect(fullUrl).toBe(`https://hip.example/fhir/${type}/${resource?.id ?? ''}`);
  });

  const url = 'https://kotyle.example/fhir/ValueSet/hip-osteoarthritis';
  it.each([
    [`ValueSet?url=${encodeURIComponent(url)}`, ['hip-osteoarthritis']],
    ['ValueSet?url=hip-osteoarthritis', []],
    [
      'ValueSet?_id=stroke-history-no-deficit,hip-osteoarthritis',
      ['hip-osteoarthritis', 'stroke-history-no-deficit'],
    ],
    ['ValueSet?name=hiposteoarthritis', ['hip-osteoarthritis', 'hip-osteoarthritis-snomed-overlay']],
    ['ValueSet?name:exact=HipOsteoarthritis', ['hip-osteoarthritis']],
    ['ValueSet?name:exact=hiposteoarthritis', []],
    [
      'ValueSet?title:contains=OF%20THE%20HIP:&_id=hip-osteoarthritis-snomed-overlay',
      ['hip-osteoarthritis-snomed-overlay'],
    ],
    // An accent makes no difference to a text (R4, 3.1.1.4.8).
    [
      'ValueSet?title=Ost%C3%A9oarthritis%20of%20the%20hip&name:exact=HipOsteoarthritis',
      ['hip-osteoarthritis'],
    ],
    ['ValueSet?name=HipOsteoarthritis&name:exact=HipOsteoarthritis', ['hip-osteoarthritis']],
    ['ValueSet?status=active', []],
    ['CodeSystem?status:not=draft', []],
    ['Questionnaire?status=draft', ['hip-plan']],
    ['Questionnaire?status=http%3A%2F%2Fhl7.org%2Ffhir%2Fpublication-status%7Cdraft', ['hip-plan']],
    ['Questionnaire?status=http%3A%2F%2Fother.example%7Cdraft', []],
    ['Questionnaire?status=&publisher=kotyle', ['hip-plan']],
    [`Library?version=${shipped.about.version}`, ['kotyle']],
    ['OperationDefinition?description:contains=every%20rule', ['evaluate']],
  ])('finds by %s what R4 says it means', async (path, expected) => {
    expect(idsIn(bundleOf(await get(`/fhir/${path}`)))).toEqual(expected);
  });

  it('finds the same by POST, with parameters in the body and in the address', async () => {
    const reply = await request(app)
      .post('/fhir/ValueSet/_search?name=HipOsteoarthritis')
      .type('form')
      .send('_id=hip-osteoarthritis');
    expect(idsIn(bundleOf(reply))).toEqual(['hip-osteoarthritis']);
  });

  it('gives every resource once over its pages, and counts them all on each', async () => {
    const seen: (string | undefined)[] = [];
    let path: string | undefined = '/fhir/PlanDefinition?_count=40&status=draft';
    for (let page = 0; path !== undefined && page < 10; page += 1) {
      const bundle = bundleOf(await get(path));
      expect(bundle.total).toBe(shipped.rules.length);
      seen.push(...idsIn(bundle));
      path = bundle.link?.find(({ relation }) => relation === 'next')?.url.replace('https://hip.example', '');
    }
    expect(seen).toEqual(shipped.rules.map(({ id }) => id));
  });

  it('only counts with _count=0', async () => {
    const bundle = bundleOf(await get('/fhir/PlanDefinition?_count=0'));
    expect([bundle.total, bundle.entry, bundle.link?.length]).toEqual([shipped.rules.length, undefined, 1]);
  });

  it('leaves an unknown parameter out of account and says so, without repeating it', async () => {
    const reply = await get('/fhir/Questionnaire?status=draft&somebody=Miller');
    const bundle = bundleOf(reply);
    expect(idsIn(bundle)).toEqual(['hip-plan']);
    expect(bundle.link?.[0]?.url).toBe('https://hip.example/fhir/Questionnaire?status=draft');
    const outcome = bundle.entry?.find(({ search }) => search?.mode === 'outcome')
      ?.resource as OperationOutcome;
    expect(outcome.issue.map(({ severity, code }) => [severity, code])).toEqual([
      ['warning', 'not-supported'],
    ]);
    expect(reply.text).not.toContain('Miller');
  });

  it('refuses it with Prefer: handling=strict, and takes known ones then too', async () => {
    const strict = { Prefer: 'handling=strict' };
    problem(await get('/fhir/Questionnaire?somebody=Miller', strict), 400, ['Miller']);
    expect((await get('/fhir/Questionnaire?status=draft', strict)).status).toBe(200);
    expect((await get('/fhir/Questionnaire?somebody=Miller', { Prefer: 'handling=lenient' })).status).toBe(
      200,
    );
  });

  it('refuses a modifier it does not know, because ignoring it would change the meaning', async () => {
    problem(await get('/fhir/ValueSet?name:missing=true'), 400);
    problem(await get('/fhir/ValueSet?url:below=x'), 400);
    problem(await get('/fhir/ValueSet?_count=many'), 400);
    problem(await get('/fhir/ValueSet?_count=-1'), 400);
  });

  it('is harmed by no address', async () => {
    for (const odd of [
      '?%',
      '?%FF=%FE',
      '?=1',
      '?&&&',
      '?__proto__=1',
      '?constructor=1',
      '?name=%00',
      '?_id=..%2F..',
    ]) {
      const reply = await get(`/fhir/ValueSet${odd}`);
      expect([200, 400], odd).toContain(reply.status);
    }
    expect([400, 404]).toContain((await get('/fhir/ValueSet/%FF')).status);
    problem(await get('/fhir/ValueSet/__proto__'), 404);
  });
});

describe('links where nobody said how the service is reached', () => {
  it('are relative, and follow no header of the request', async () => {
    const reply = await request(testApp()).get('/fhir/Questionnaire').set('Host', 'evil.example');
    const bundle = bundleOf(reply);
    expect(bundle.link?.[0]?.url).toBe('Questionnaire');
    expect(bundle.entry?.[0]?.fullUrl).toBeUndefined();
    expect(reply.text).not.toContain('evil.example');
  });
});
