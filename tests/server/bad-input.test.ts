import { deflateSync, gzipSync } from 'node:zlib';
import request from 'supertest';
import { describe, expect, it } from 'vitest';
import {
  BOOKING_PATH,
  bookingCall,
  cardsOf,
  ORDER_PATH,
  orderCall,
  PATIENT,
  pathsOf,
  planned,
  post,
  problem,
  rulesOf,
  searchset,
  testApp,
} from './test-service.js';
import type { HookCall, Reply } from './test-service.js';

const app = testApp();

/** Stands for what only a patient's record would hold; never to be seen in a refusal. */
const SECRET = 'Zephyrine-Quux-1951';
const CALL = orderCall({
  prefetch: { patient: { ...PATIENT, name: [{ family: SECRET }], birthDate: '1951-07-22' } },
});

const JSON_TYPE = { 'Content-Type': 'application/json' };

function inContext(change: object): HookCall {
  return { ...CALL, context: { ...CALL.context, ...change } };
}

function without(member: string): object {
  return Object.fromEntries(Object.entries(CALL).filter(([name]) => name !== member));
}

function withoutContext(member: string): object {
  const kept = Object.entries(CALL.context).filter(([name]) => name !== member);
  return { ...CALL, context: Object.fromEntries(kept) };
}

function nested(depth: number): string {
  return '['.repeat(depth) + ']'.repeat(depth);
}

describe('a request that is no hook request', () => {
  interface Case {
    readonly body: unknown;
    readonly headers?: Readonly<Record<string, string>>;
    readonly status: number;
    /** Issue code of FHIR's value set. */
    readonly code: string;
    readonly path?: string;
  }
  const text = JSON.stringify(CALL);
  const cases: Readonly<Record<string, Case>> = {
    // G7, E4, E9: what is no JSON, or no object, is 400 and of the kind structure.
    'JSON cut off in the middle': { body: text.slice(0, -20), status: 400, code: 'structure' },
    'JSON with a trailing comma': {
      body: `{"hook":"order-sign","note":"${SECRET}",}`,
      status: 400,
      code: 'structure',
    },
    'JSON with a comment': { body: `/* ${SECRET} */ ${text}`, status: 400, code: 'structure' },
    'a list': { body: [CALL], status: 400, code: 'structure' },
    'a text': { body: JSON.stringify(SECRET), status: 400, code: 'structure' },
    'a number': { body: '42', status: 400, code: 'structure' },
    null: { body: 'null', status: 400, code: 'structure' },
    'an empty object': { body: '{}', status: 400, code: 'required', path: 'hook' },
    'an empty body': { body: '', status: 400, code: 'required', path: 'hook' },
    'white space only': { body: '   ', status: 400, code: 'structure' },
    'bytes that are no UTF-8': {
      body: Buffer.from([0x7b, 0xff, 0xfe, 0x7d]),
      status: 400,
      code: 'structure',
    },
    // G6: other media types.
    'a form': {
      body: `hook=order-sign&name=${SECRET}`,
      headers: { 'Content-Type': 'application/x-www-form-urlencoded' },
      status: 415,
      code: 'not-supported',
    },
    'JSON said to be text': {
      body: text,
      headers: { 'Content-Type': 'text/plain' },
      status: 415,
      code: 'not-supported',
    },
    'JSON said to be FHIR': {
      body: text,
      headers: { 'Content-Type': 'application/fhir+json' },
      status: 415,
      code: 'not-supported',
    },
    'an unknown character set': {
      body: text,
      headers: { 'Content-Type': 'application/json; charset=klingon' },
      status: 415,
      code: 'not-supported',
    },
    'an unknown compression': {
      body: text,
      headers: { ...JSON_TYPE, 'Content-Encoding': 'snappy' },
      status: 415,
      code: 'not-supported',
    },
    'a compressed body that is none': {
      body: text,
      headers: { ...JSON_TYPE, 'Content-Encoding': 'gzip' },
      status: 400,
      code: 'value',
    },
    'a compressed body cut off': {
      body: gzipSync(text).subarray(0, 200),
      headers: { ...JSON_TYPE, 'Content-Encoding': 'gzip' },
      status: 400,
      code: 'value',
    },
    // G7: depth made to exhaust whoever walks it.
    'lists nested 10,000 deep': {
      body: `{"hook":"order-sign","context":${nested(10_000)}}`,
      status: 400,
      code: 'structure',
    },
    'objects nested 10,000 deep': {
      body: `{"prefetch":${'{"a":'.repeat(10_000)}1${'}'.repeat(10_000)}}`,
      status: 400,
      code: 'structure',
    },
    'nesting behind an escaped quotation mark': {
      body: `{"a":"\\"","b":${nested(10_000)}}`,
      status: 400,
      code: 'structure',
    },
  };
  for (const [what, { body, headers = JSON_TYPE, status, code, path }] of Object.entries(cases)) {
    it(`is refused as ${status}: ${what}`, async () => {
      const [first] = problem(await post(app, ORDER_PATH, body, headers), status, [SECRET]);
      expect(first).toMatchObject({ severity: 'error', code });
      if (path !== undefined) expect(first?.expression).toEqual([path]);
    });
  }

  it('is refused as 400, never 500, when deep nesting hides in UTF-16, where a byte is no character', async () => {
    // One measure in two versions, so that both are compared to the bottom; one escaped quotation mark before them.
    const measure = planned('cup-inclination', 40, 'deg', { extension: 'DEEP' });
    const versions = [{ note: '"', ...measure }, measure];
    const deep = JSON.stringify(orderCall({ measures: versions })).replaceAll('"DEEP"', nested(10_000));
    for (const [charset, body] of [
      ['utf-16le', Buffer.from(deep, 'utf16le')],
      ['utf-16be', Buffer.from(deep, 'utf16le').swap16()],
    ] as const) {
      const reply = await post(app, ORDER_PATH, body, {
        'Content-Type': `application/json; charset=${charset}`,
      });
      // G6, G7; RFC 8259 section 8.1: exchanged JSON is UTF-8, so refusing the character set is right too.
      expect([400, 415], `${charset}: ${reply.text}`).toContain(reply.status);
      problem(reply, reply.status);
    }
  });

  it('is refused as 413 when larger than configured, also when it only becomes so by unpacking', async () => {
    const small = testApp({ bodyLimitBytes: 4096 });
    const large = JSON.stringify({ ...CALL, extension: { 'com.example.padding': SECRET.repeat(1000) } });
    // G7, E7.
    expect(problem(await post(small, ORDER_PATH, large), 413, [SECRET])[0]?.code).toBe('too-long');
    for (const [encoding, body] of [
      ['gzip', gzipSync(large)],
      ['deflate', deflateSync(large)],
    ] as const) {
      expect(body.length).toBeLessThan(4096);
      const reply = await post(small, ORDER_PATH, body, { ...JSON_TYPE, 'Content-Encoding': encoding });
      expect(problem(reply, 413, [SECRET])[0]?.code).toBe('too-long');
    }
  });

  it('is not mistaken for one because it is packed, or names UTF-8', async () => {
    const plain = await post(app, ORDER_PATH, CALL);
    // G6: with or without character set.
    const named = await post(app, ORDER_PATH, CALL, { 'Content-Type': 'application/json; charset=UTF-8' });
    expect(named.text).toBe(plain.text);
    const packed = await post(app, ORDER_PATH, gzipSync(JSON.stringify(CALL)), {
      ...JSON_TYPE,
      'Content-Encoding': 'gzip',
    });
    expect(packed.text).toBe(plain.text);
    expect(packed.status).toBe(200);
  });

  it('keeps the brackets inside its texts apart from nesting', async () => {
    const talkative = inContext({ note: '[{'.repeat(500) + '\\"' });
    expect(rulesOf(cardsOf(await post(app, ORDER_PATH, talkative)))).toEqual([]);
  });
});

describe('the address', () => {
  it('of an unknown service is 404', async () => {
    // R12, E7.
    const [first] = problem(await post(app, '/cds-services/knee-stability', CALL), 404, [SECRET]);
    expect(first?.code).toBe('not-found');
  });

  it('of nothing at all is 404, beside the services as behind their feedback', async () => {
    // E7.
    problem(await post(app, '/', CALL), 404, [SECRET]);
    problem(await post(app, '/feedback', { feedback: [] }), 404);
    problem(await post(app, `${ORDER_PATH}/feedback/1`, { feedback: [] }), 404);
  });

  it('is not a way out of the service', async () => {
    for (const path of [
      '/cds-services/..%2f..%2fetc%2fpasswd',
      '/cds-services/__proto__',
      '/cds-services/constructor',
    ]) {
      problem(await post(app, path, CALL), 404, [SECRET]);
    }
    problem(await post(app, '/cds-services/%E0%A4%A', CALL), 400, [SECRET]);
  });

  it('of a service answers posting only, and says so', async () => {
    for (const verb of ['get', 'put', 'patch', 'delete'] as const) {
      const reply = (await request(app)[verb](ORDER_PATH)) as Reply;
      // R1, E7; RFC 9110 section 15.5.6: Allow names what is taken.
      problem(reply, 405);
      expect(reply.headers['allow']).toBe('POST');
    }
  });
});

describe('a hook request with a member missing or of the wrong type', () => {
  interface Case {
    readonly body: unknown;
    readonly path: string;
    readonly code: string;
    readonly to?: string;
  }
  const authorization = {
    access_token: SECRET,
    token_type: 'Bearer',
    expires_in: 300,
    scope: 'user/Observation.read',
    subject: 'kotyle',
  };
  const fhirServer = 'https://record.example/fhir';
  const cases: Readonly<Record<string, Case>> = {
    // R2.
    'hook missing': { body: without('hook'), path: 'hook', code: 'required' },
    'hook a number': { body: { ...CALL, hook: 7 }, path: 'hook', code: 'structure' },
    'hook of the other service': { body: { ...CALL, hook: 'appointment-book' }, path: 'hook', code: 'value' },
    'hook unknown': { body: { ...CALL, hook: 'patient-view' }, path: 'hook', code: 'value' },
    // R3.
    'hookInstance missing': { body: without('hookInstance'), path: 'hookInstance', code: 'required' },
    'hookInstance no UUID': { body: { ...CALL, hookInstance: SECRET }, path: 'hookInstance', code: 'value' },
    'hookInstance null': { body: { ...CALL, hookInstance: null }, path: 'hookInstance', code: 'structure' },
    // R4, H1.
    'context missing': { body: without('context'), path: 'context', code: 'required' },
    'context null': { body: { ...CALL, context: null }, path: 'context', code: 'structure' },
    'context a list': { body: { ...CALL, context: [CALL.context] }, path: 'context', code: 'structure' },
    'userId missing': { body: withoutContext('userId'), path: 'context.userId', code: 'required' },
    'userId a bare id': { body: inContext({ userId: SECRET }), path: 'context.userId', code: 'value' },
    'userId a URL': {
      body: inContext({ userId: `https://record.example/Practitioner/${SECRET}` }),
      path: 'context.userId',
      code: 'value',
    },
    'userId an object': {
      body: inContext({ userId: { id: SECRET } }),
      path: 'context.userId',
      code: 'structure',
    },
    'userId empty': { body: inContext({ userId: '' }), path: 'context.userId', code: 'value' },
    'patientId missing': { body: withoutContext('patientId'), path: 'context.patientId', code: 'required' },
    'patientId a number': {
      body: inContext({ patientId: 195107 }),
      path: 'context.patientId',
      code: 'structure',
    },
    'patientId with characters no id has': {
      body: inContext({ patientId: `${SECRET} <b>` }),
      path: 'context.patientId',
      code: 'value',
    },
    'patientId of 65 characters': {
      body: inContext({ patientId: 'a'.repeat(65) }),
      path: 'context.patientId',
      code: 'value',
    },
    'patientId a reference to something else': {
      body: inContext({ patientId: 'Practitioner/patient-1' }),
      path: 'context.patientId',
      code: 'value',
    },
    'patientId empty': { body: inContext({ patientId: '' }), path: 'context.patientId', code: 'value' },
    'encounterId a list': {
      body: inContext({ encounterId: [] }),
      path: 'context.encounterId',
      code: 'structure',
    },
    'draftOrders missing': {
      body: withoutContext('draftOrders'),
      path: 'context.draftOrders',
      code: 'required',
    },
    'draftOrders null': {
      body: inContext({ draftOrders: null }),
      path: 'context.draftOrders',
      code: 'structure',
    },
    'draftOrders a list': {
      body: inContext({ draftOrders: [] }),
      path: 'context.draftOrders',
      code: 'structure',
    },
    'draftOrders an order instead of a Bundle': {
      body: inContext({ draftOrders: { resourceType: 'ServiceRequest' } }),
      path: 'context.draftOrders.resourceType',
      code: 'value',
    },
    // Traps, 1: the old copy of the hook shows a list.
    'appointments a plain list': {
      body: {
        ...bookingCall({}),
        context: {
          ...bookingCall({}).context,
          appointments: [{ resourceType: 'Appointment', comment: SECRET }],
        },
      },
      path: 'context.appointments',
      code: 'structure',
      to: BOOKING_PATH,
    },
    // R7.
    'prefetch a list': { body: { ...CALL, prefetch: [] }, path: 'prefetch', code: 'structure' },
    'prefetch a text': { body: { ...CALL, prefetch: SECRET }, path: 'prefetch', code: 'structure' },
    // R5, cds-r-1.
    'fhirAuthorization without fhirServer': {
      body: { ...CALL, fhirAuthorization: authorization },
      path: 'fhirServer',
      code: 'required',
    },
    'fhirServer a script': {
      body: { ...CALL, fhirServer: `javascript:alert('${SECRET}')` },
      path: 'fhirServer',
      code: 'value',
    },
    'fhirServer a file': {
      body: { ...CALL, fhirServer: 'file:///etc/passwd' },
      path: 'fhirServer',
      code: 'value',
    },
    'fhirServer a relative path': {
      body: { ...CALL, fhirServer: '/fhir' },
      path: 'fhirServer',
      code: 'value',
    },
    'fhirServer null': { body: { ...CALL, fhirServer: null }, path: 'fhirServer', code: 'structure' },
    // R6, one mutation per member.
    'no access_token': {
      body: { ...CALL, fhirServer, fhirAuthorization: { ...authorization, access_token: undefined } },
      path: 'fhirAuthorization.access_token',
      code: 'required',
    },
    'token_type not Bearer': {
      body: { ...CALL, fhirServer, fhirAuthorization: { ...authorization, token_type: 'MAC' } },
      path: 'fhirAuthorization.token_type',
      code: 'value',
    },
    'expires_in a text': {
      body: { ...CALL, fhirServer, fhirAuthorization: { ...authorization, expires_in: '300' } },
      path: 'fhirAuthorization.expires_in',
      code: 'structure',
    },
    'no scope': {
      body: { ...CALL, fhirServer, fhirAuthorization: { ...authorization, scope: undefined } },
      path: 'fhirAuthorization.scope',
      code: 'required',
    },
    'no subject': {
      body: { ...CALL, fhirServer, fhirAuthorization: { ...authorization, subject: undefined } },
      path: 'fhirAuthorization.subject',
      code: 'required',
    },
  };
  for (const [what, { body, path, code, to = ORDER_PATH }] of Object.entries(cases)) {
    it(`is refused with its path: ${what}`, async () => {
      const issues = problem(await post(app, to, body), 400, [SECRET, '195107', 'MAC']);
      // R10, H1, E4, E9.
      expect(pathsOf(issues)).toContain(path);
      const named = issues.find(({ expression }) => expression?.includes(path));
      expect(named?.code).toBe(code);
      // Style, errors: what was expected, what was found.
      expect(named?.diagnostics).toMatch(/^expected .+, found /);
      expect(named?.diagnostics).not.toMatch(/expected Invalid/);
    });
  }

  it('is refused with every fault at once, not only the first', async () => {
    const issues = problem(await post(app, ORDER_PATH, { hook: 'order-sign', context: 3 }), 400);
    // R10.
    expect(pathsOf(issues)).toEqual(expect.arrayContaining(['hookInstance', 'context']));
  });
});

describe('the wrong patient', () => {
  const other = { ...PATIENT, id: 'patient-2', name: [{ family: SECRET }] };

  it('in the prefetch stops everything, alone or in a Bundle', async () => {
    for (const patient of [other, searchset(other)]) {
      const issues = problem(await post(app, ORDER_PATH, orderCall({ prefetch: { patient } })), 400, [
        SECRET,
        'patient-2',
      ]);
      // H8; integration decisions section 3.
      expect(issues[0]).toMatchObject({ code: 'value', expression: ['prefetch.patient'] });
    }
  });

  it('that this one was merged with is told apart by the issue code conflict', async () => {
    const link = [{ other: { reference: 'Patient/patient-1' }, type: 'replaces' }];
    const issues = problem(
      await post(app, ORDER_PATH, orderCall({ prefetch: { patient: { ...other, link } } })),
      400,
      [SECRET, 'patient-2'],
    );
    // Integration decisions section 3: merged records.
    expect(issues[0]).toMatchObject({ code: 'conflict', expression: ['prefetch.patient'] });
  });

  it('beside the right one in one Bundle stops everything too, in either order', async () => {
    for (const patient of [searchset(PATIENT, other), searchset(other, PATIENT)]) {
      // H8: a read by id never gives two people.
      problem(await post(app, ORDER_PATH, orderCall({ prefetch: { patient } })), 400, [SECRET, 'patient-2']);
    }
  });
});

describe('names that mean something to JavaScript', () => {
  const hostile: readonly string[] = ['__proto__', 'constructor', 'prototype', 'toString', 'hasOwnProperty'];

  it('are ordinary unknown names in body, context, prefetch and resources', async () => {
    const plain = await post(app, ORDER_PATH, CALL);
    for (const name of hostile) {
      const key = JSON.stringify(name);
      const text = JSON.stringify(CALL)
        .replace('{"hook"', `{${key}:{"polluted":true},"hook"`)
        .replace('"context":{', `"context":{${key}:{"polluted":true},`)
        .replace('"prefetch":{', `"prefetch":{${key}:{"resourceType":"Bundle"},`);
      // R9, H10, P12.
      const reply = await post(app, ORDER_PATH, text);
      expect(reply.text, name).toBe(plain.text);
      expect(({} as Record<string, unknown>)['polluted']).toBeUndefined();
    }
  });

  it('do not stand in for members that are missing', async () => {
    const text = JSON.stringify(without('context')).replace(
      '{"hook"',
      `{"__proto__":{"context":${JSON.stringify(CALL.context)}},"hook"`,
    );
    // R4.
    expect(pathsOf(problem(await post(app, ORDER_PATH, text), 400, [SECRET]))).toContain('context');
    const prefetch = `"prefetch":{"__proto__":{"measures":{"resourceType":"Bundle"}}}`;
    const inherited = JSON.stringify({ ...CALL, prefetch: {} }).replace('"prefetch":{}', prefetch);
    const absent = await post(app, ORDER_PATH, { ...CALL, prefetch: {} });
    // P10: a set is there only when its own key is.
    expect((await post(app, ORDER_PATH, inherited)).text).toBe(absent.text);
  });

  it('as resource types, codes and ids find no rule and break none', async () => {
    const odd = hostile.map((name) => ({
      resourceType: name,
      id: name,
      status: name,
      code: { coding: [{ system: name, code: name }] },
      valueQuantity: { value: 1, system: 'http://unitsofmeasure.org', code: name },
      subject: { reference: 'Patient/patient-1' },
    }));
    const reply = await post(app, ORDER_PATH, {
      ...CALL,
      prefetch: { ...CALL.prefetch, conditions: searchset(...odd), observations: searchset(...odd) },
    });
    expect(rulesOf(cardsOf(reply))).toEqual([]);
  });

  it('as units are no units, and the other measures are still read', async () => {
    for (const name of hostile) {
      const valueQuantity = { value: 40, system: 'http://unitsofmeasure.org', code: name };
      const measures = [
        planned('cup-inclination', 40, 'deg', { valueQuantity }),
        planned('cup-anteversion', 38, 'deg'),
      ];
      const reply = await post(app, ORDER_PATH, orderCall({ measures }));
      // Style, errors: malformed outside input is a finding for the reader, never a fault of ours.
      expect([...rulesOf(cardsOf(reply))].sort(), name).toEqual([
        'cup-anteversion-outside-published',
        'measure-implausible-or-conflicting',
      ]);
    }
  });
});
